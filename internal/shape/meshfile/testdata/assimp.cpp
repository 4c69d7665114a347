// Reads a mesh file with the Open Asset Import Library (assimp, BSD licence) and
// writes all its triangles, node transforms applied, as binary STL: assimp FROM TO.
#include <assimp/Importer.hpp>
#include <assimp/config.h>
#include <assimp/postprocess.h>
#include <assimp/scene.h>

#include <cstdint>
#include <cstdio>
#include <vector>

// add writes the triangles of a node and of those in it, in double precision
// until the end.
static void add(const aiScene *s, const aiNode *n, const double *outer, std::vector<float> &out) {
	double t[16];
	const aiMatrix4x4 &m = n->mTransformation;
	for (int i = 0; i < 4; i++)
		for (int k = 0; k < 4; k++) {
			t[4 * i + k] = 0;
			for (int j = 0; j < 4; j++) t[4 * i + k] += outer[4 * i + j] * m[j][k];
		}
	double det = t[0] * (t[5] * t[10] - t[6] * t[9]) - t[1] * (t[4] * t[10] - t[6] * t[8]) + t[2] * (t[4] * t[9] - t[5] * t[8]);
	for (unsigned i = 0; i < n->mNumMeshes; i++) {
		const aiMesh *mesh = s->mMeshes[n->mMeshes[i]];
		for (unsigned f = 0; f < mesh->mNumFaces; f++) {
			const aiFace &face = mesh->mFaces[f];
			if (face.mNumIndices != 3) continue;
			out.insert(out.end(), 3, 0.0f);
			for (int k = 0; k < 3; k++) {
				const aiVector3D &p = mesh->mVertices[face.mIndices[det < 0 ? (3 - k) % 3 : k]];
				for (int r = 0; r < 3; r++) out.push_back(float(t[4 * r] * p.x + t[4 * r + 1] * p.y + t[4 * r + 2] * p.z + t[4 * r + 3]));
			}
		}
	}
	for (unsigned i = 0; i < n->mNumChildren; i++) add(s, n->mChildren[i], t, out);
}

int main(int argc, char **argv) {
	if (argc != 3) return 2;
	Assimp::Importer reader;
	const aiScene *s = reader.ReadFile(argv[1], aiProcess_Triangulate);
	if (!s || !s->mRootNode) {
		std::fprintf(stderr, "%s\n", reader.GetErrorString());
		return 1;
	}
	const double unit[16] = {1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1};
	std::vector<float> out;
	add(s, s->mRootNode, unit, out);
	FILE *f = std::fopen(argv[2], "wb");
	if (!f) return 1;
	char head[80] = "binary STL";
	uint32_t count = out.size() / 12;
	uint16_t none = 0;
	std::fwrite(head, 1, 80, f);
	std::fwrite(&count, 4, 1, f);
	for (uint32_t i = 0; i < count; i++) {
		std::fwrite(&out[12 * i], 4, 12, f);
		std::fwrite(&none, 2, 1, f);
	}
	return std::fclose(f);
}
