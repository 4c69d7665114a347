package heat

import "fmt"

func fmtSpread(m, lo, hi float64) string { return fmt.Sprintf("%+.2f (%+.2f..%+.2f)", m, lo, hi) }
