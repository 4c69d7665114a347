// Judges solids by CGAL: reads OFF files, prints for each one line
//   name triangles closed outward crossings volume
// An edge with more than two faces, or faces that disagree, counts as not closed.
#include <CGAL/Exact_predicates_inexact_constructions_kernel.h>
#include <CGAL/Polygon_mesh_processing/measure.h>
#include <CGAL/Polygon_mesh_processing/orientation.h>
#include <CGAL/Polygon_mesh_processing/polygon_soup_to_polygon_mesh.h>
#include <CGAL/Polygon_mesh_processing/self_intersections.h>
#include <CGAL/Surface_mesh.h>
#include <array>
#include <cstdio>
#include <fstream>
#include <string>
#include <vector>

typedef CGAL::Exact_predicates_inexact_constructions_kernel Kernel;
typedef CGAL::Surface_mesh<Kernel::Point_3> Mesh;
namespace PMP = CGAL::Polygon_mesh_processing;

int main(int argc, char **argv) {
	for (int k = 1; k < argc; k++) {
		std::ifstream in(argv[k]);
		std::string off;
		size_t nv, nf, ne;
		if (!(in >> off >> nv >> nf >> ne)) {
			std::fprintf(stderr, "%s: cannot be read\n", argv[k]);
			return 1;
		}
		std::vector<Kernel::Point_3> points(nv);
		for (auto &p : points) {
			double x, y, z;
			in >> x >> y >> z;
			p = Kernel::Point_3(x, y, z);
		}
		std::vector<std::array<std::size_t, 3>> faces(nf);
		for (auto &f : faces) {
			int n;
			in >> n >> f[0] >> f[1] >> f[2];
		}
		bool sound = PMP::is_polygon_soup_a_polygon_mesh(faces);
		std::vector<std::pair<std::size_t, std::size_t>> pairs;
		Mesh m;
		int closed = 0, outward = 0;
		double volume = 0;
		std::size_t crossings = 0;
		if (sound) {
			PMP::polygon_soup_to_polygon_mesh(points, faces, m);
			closed = CGAL::is_closed(m);
			outward = closed && PMP::is_outward_oriented(m);
			volume = closed ? PMP::volume(m) : 0;
			std::vector<std::pair<Mesh::Face_index, Mesh::Face_index>> found;
			PMP::self_intersections(m, std::back_inserter(found));
			crossings = found.size();
		}
		std::printf("%s %zu %d %d %zu %.17g\n", argv[k], nf, closed, outward, crossings, volume);
	}
	return 0;
}
