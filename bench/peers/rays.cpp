// Rays per second of Embree 3 on one thread, beside the benchmarks of
// internal/shape/bvh: the same body, the same rays, the same count of hits.
//
//   g++ -O3 -march=native -std=c++17 rays.cpp -o rays -lembree3
//   rays BODY ROUNDS          (BODY as written by bench/peers/body)
//
// Grid rays: 1024 x 1024 along +z, one per cell of the body's box, all hits
// counted by an intersection filter that refuses each of them. Once one ray at
// a time, as AllHits answers, and once in coherent packets of 16, as SheetHits
// may be compared. Random rays: from a sphere round the body at points of its
// box, closest hit. Each line gives the best and the
// median of the rounds by the clock, and the best by processor time.
#include <embree3/rtcore.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <functional>
#include <random>
#include <vector>

namespace {

struct Body {
  std::vector<double> corner;
  std::vector<uint32_t> triangle;
};

bool read(const char *path, Body &b) {
  FILE *f = fopen(path, "rb");
  if (!f) return false;
  uint32_t n[2];
  bool ok = fread(n, 4, 2, f) == 2;
  if (ok) {
    b.corner.resize(3 * size_t(n[0]));
    b.triangle.resize(3 * size_t(n[1]));
    ok = fread(b.corner.data(), 8, b.corner.size(), f) == b.corner.size() &&
         fread(b.triangle.data(), 4, b.triangle.size(), f) == b.triangle.size();
  }
  fclose(f);
  return ok;
}

// The context of one query, with a place for its count.
struct Counting {
  RTCIntersectContext base;
  long hits;
};

void refuse(const RTCFilterFunctionNArguments *a) {
  long n = 0;
  for (unsigned i = 0; i < a->N; i++) {
    n += a->valid[i] == -1;
    a->valid[i] = 0;
  }
  reinterpret_cast<Counting *>(a->context)->hits += n;
}

double seconds(clockid_t clock) {
  timespec t;
  clock_gettime(clock, &t);
  return t.tv_sec + 1e-9 * t.tv_nsec;
}

// time runs f `rounds` times after one warm-up and prints the best and the
// median by the clock, and the best by processor time: the steadier figure where
// other work shares the cores. scale is the work of a round for a rate, or the
// number of units in a second.
void time(const char *name, int rounds, double scale, bool rate, const char *unit, const std::function<long()> &f) {
  std::vector<double> t, cpu;
  long hits = f();
  for (int r = 0; r < rounds; r++) {
    double at = seconds(CLOCK_MONOTONIC), used = seconds(CLOCK_PROCESS_CPUTIME_ID);
    hits = f();
    t.push_back(seconds(CLOCK_MONOTONIC) - at);
    cpu.push_back(seconds(CLOCK_PROCESS_CPUTIME_ID) - used);
  }
  std::sort(t.begin(), t.end());
  auto show = [&](double d) { return rate ? scale / d : d * scale; };
  printf("%-36s best %8.3f  median %8.3f  processor %8.3f %s", name, show(t.front()), show(t[t.size() / 2]),
         show(*std::min_element(cpu.begin(), cpu.end())), unit);
  if (hits >= 0) printf("  (%ld hits)", hits);
  printf("\n");
}

const int side = 1024;

}  // namespace

int main(int argc, char **argv) {
  Body b;
  if (argc != 3 || !read(argv[1], b)) {
    fprintf(stderr, "usage: rays BODY ROUNDS\n");
    return 2;
  }
  const int rounds = std::max(1, atoi(argv[2]));
  // Single precision wants the body near the origin.
  double lo[3] = {1e300, 1e300, 1e300}, hi[3] = {-1e300, -1e300, -1e300};
  for (uint32_t v : b.triangle)
    for (int k = 0; k < 3; k++) {
      lo[k] = std::min(lo[k], b.corner[3 * size_t(v) + k]);
      hi[k] = std::max(hi[k], b.corner[3 * size_t(v) + k]);
    }
  const double longest = std::max({hi[0] - lo[0], hi[1] - lo[1], hi[2] - lo[2]});
  float half[3];
  for (int k = 0; k < 3; k++) half[k] = float((hi[k] - lo[k]) / longest);
  std::vector<float> corner(b.corner.size());
  for (size_t i = 0; i < corner.size(); i++) corner[i] = float((2 * b.corner[i] - lo[i % 3] - hi[i % 3]) / longest);

  RTCDevice device = rtcNewDevice("threads=1");
  RTCScene scene = nullptr;
  auto build = [&]() -> long {
    if (scene) rtcReleaseScene(scene);
    scene = rtcNewScene(device);
    rtcSetSceneFlags(scene, RTCSceneFlags(RTC_SCENE_FLAG_ROBUST | RTC_SCENE_FLAG_CONTEXT_FILTER_FUNCTION));
    RTCGeometry g = rtcNewGeometry(device, RTC_GEOMETRY_TYPE_TRIANGLE);
    std::copy(corner.begin(), corner.end(), static_cast<float *>(rtcSetNewGeometryBuffer(
        g, RTC_BUFFER_TYPE_VERTEX, 0, RTC_FORMAT_FLOAT3, 12, corner.size() / 3)));
    std::copy(b.triangle.begin(), b.triangle.end(), static_cast<uint32_t *>(rtcSetNewGeometryBuffer(
        g, RTC_BUFFER_TYPE_INDEX, 0, RTC_FORMAT_UINT3, 12, b.triangle.size() / 3)));
    rtcCommitGeometry(g);
    rtcAttachGeometry(scene, g);
    rtcReleaseGeometry(g);
    rtcCommitScene(scene);
    return -1;
  };
  printf("Embree %d.%d.%d, %zu triangles, 1 thread\n", int(rtcGetDeviceProperty(device, RTC_DEVICE_PROPERTY_VERSION_MAJOR)),
         int(rtcGetDeviceProperty(device, RTC_DEVICE_PROPERTY_VERSION_MINOR)),
         int(rtcGetDeviceProperty(device, RTC_DEVICE_PROPERTY_VERSION_PATCH)), b.triangle.size() / 3);
  time("build", rounds, 1e3, false, "ms", build);

  const double million = side * double(side) / 1e6;
  time("grid rays, all hits, single", rounds, million, true, "M rays/s", [&]() -> long {
    Counting c;
    rtcInitIntersectContext(&c.base);
    c.base.filter = refuse;
    c.hits = 0;
    RTCRayHit q{};
    for (int j = 0; j < side; j++)
      for (int i = 0; i < side; i++) {
        q.ray.org_x = ((i + 0.5f) / side * 2 - 1) * half[0];
        q.ray.org_y = ((j + 0.5f) / side * 2 - 1) * half[1];
        q.ray.org_z = -3;
        q.ray.dir_x = q.ray.dir_y = 0;
        q.ray.dir_z = 1;
        q.ray.tnear = 0;
        q.ray.tfar = INFINITY;
        q.ray.mask = ~0u;
        q.hit.geomID = RTC_INVALID_GEOMETRY_ID;
        rtcIntersect1(scene, &c.base, &q);
      }
    return c.hits;
  });
  time("grid rays, all hits, packets of 16", rounds, million, true, "M rays/s", [&]() -> long {
    Counting c;
    rtcInitIntersectContext(&c.base);
    c.base.filter = refuse;
    c.base.flags = RTC_INTERSECT_CONTEXT_FLAG_COHERENT;
    c.hits = 0;
    alignas(64) RTCRayHit16 q{};
    alignas(64) int valid[16];
    std::fill(valid, valid + 16, -1);
    for (int j = 0; j < side; j += 4)
      for (int i = 0; i < side; i += 4) {
        for (int k = 0; k < 16; k++) {
          q.ray.org_x[k] = ((i + k % 4 + 0.5f) / side * 2 - 1) * half[0];
          q.ray.org_y[k] = ((j + k / 4 + 0.5f) / side * 2 - 1) * half[1];
          q.ray.org_z[k] = -3;
          q.ray.dir_x[k] = q.ray.dir_y[k] = 0;
          q.ray.dir_z[k] = 1;
          q.ray.tnear[k] = 0;
          q.ray.tfar[k] = INFINITY;
          q.ray.mask[k] = ~0u;
          q.hit.geomID[k] = RTC_INVALID_GEOMETRY_ID;
        }
        rtcIntersect16(valid, scene, &c.base, &q);
      }
    return c.hits;
  });
  const int n = 1 << 16;
  std::vector<float> ray(6 * n);
  std::mt19937 g(1);
  std::normal_distribution<float> normal;
  std::uniform_real_distribution<float> even(-0.7f, 0.7f);
  for (int i = 0; i < n; i++) {
    float o[3], l = 0;
    for (float &x : o) {
      x = normal(g);
      l += x * x;
    }
    for (int k = 0; k < 3; k++) {
      ray[6 * i + k] = o[k] * 2 / std::sqrt(l);
      ray[6 * i + 3 + k] = even(g) * half[k] - ray[6 * i + k];
    }
  }
  time("random rays, closest hit, single", rounds, n / 1e6, true, "M rays/s", [&]() -> long {
    RTCIntersectContext c;
    rtcInitIntersectContext(&c);
    long hits = 0;
    RTCRayHit q{};
    for (int i = 0; i < n; i++) {
      const float *r = &ray[6 * i];
      q.ray.org_x = r[0], q.ray.org_y = r[1], q.ray.org_z = r[2];
      q.ray.dir_x = r[3], q.ray.dir_y = r[4], q.ray.dir_z = r[5];
      q.ray.tnear = 0;
      q.ray.tfar = INFINITY;
      q.ray.mask = ~0u;
      q.hit.geomID = RTC_INVALID_GEOMETRY_ID;
      rtcIntersect1(scene, &c, &q);
      hits += q.hit.geomID != RTC_INVALID_GEOMETRY_ID;
    }
    return hits;
  });
  rtcReleaseScene(scene);
  rtcReleaseDevice(device);
}
