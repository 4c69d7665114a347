package sequence

import "os"

// sameDevice reports whether a file can be moved between two folders by one
// rename: whether they lie on one file system. It tries, since that is the only
// question that counts on every system.
func sameDevice(a, b string) bool {
	f, err := os.CreateTemp(a, asidePrefix)
	if err != nil {
		return true // the writing itself will say why not
	}
	f.Close()
	defer os.Remove(f.Name())
	g, err := os.CreateTemp(b, asidePrefix)
	if err != nil {
		return true
	}
	g.Close()
	defer os.Remove(g.Name())
	return os.Rename(f.Name(), g.Name()) == nil
}
