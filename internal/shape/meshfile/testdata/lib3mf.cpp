// Converts between 3MF and binary STL with lib3mf, the 3MF consortium's
// implementation (BSD licence): lib3mf FROM TO. The build of a 3MF comes out of
// it as one STL, all transforms applied. Prints the number of warnings.
#include <lib3mf/Model/COM/NMR_DLLInterfaces.h>

#include <cstdio>
#include <string>

using namespace NMR;

static std::string kind(const std::string &name) { return name.substr(name.find_last_of('.') + 1); }

static void check(LIB3MFRESULT r, PLib3MFBase *of, const char *what) {
	if (r == LIB3MF_OK) return;
	DWORD code = 0;
	LPCSTR text = nullptr;
	if (of) lib3mf_getlasterror(of, &code, &text);
	std::fprintf(stderr, "%s: %lx %lx %s\n", what, (unsigned long)r, (unsigned long)code, text ? text : "");
	std::exit(1);
}

int main(int argc, char **argv) {
	if (argc != 3) return 2;
	PLib3MFModel *model = nullptr;
	PLib3MFModelReader *reader = nullptr;
	PLib3MFModelWriter *writer = nullptr;
	check(lib3mf_createmodel(&model), nullptr, "model");
	check(lib3mf_model_queryreader(model, kind(argv[1]).c_str(), &reader), model, "reader");
	lib3mf_reader_setstrictmodeactive(reader, 1);
	check(lib3mf_reader_readfromfileutf8(reader, argv[1]), reader, "read");
	DWORD warnings = 0;
	check(lib3mf_reader_getwarningcount(reader, &warnings), reader, "warnings");
	check(lib3mf_model_querywriter(model, kind(argv[2]).c_str(), &writer), model, "writer");
	check(lib3mf_writer_writetofileutf8(writer, argv[2]), writer, "write");
	std::printf("%u\n", (unsigned)warnings);
	lib3mf_release(writer);
	lib3mf_release(reader);
	lib3mf_release(model);
	return 0;
}
