/* The explicit heat step of internal/physics/heat in C, beside BenchmarkPlane:
 *
 *   out = c + r (((left + right) + (front + back)) + (below + above) - 6 c)    float32
 *
 * on the same grids, and a triad a = b + 3 c in float64 over 576 MiB, 24 bytes an
 * element, as the memory bandwidth that a kernel can hope for.
 *
 *   gcc -O3 -march=native -fopenmp kernel.c -o kernel
 *   OMP_NUM_THREADS=2 kernel ROUNDS
 *
 * Prints for each grid the best round of a tenth of a second, in ns a cell and in
 * GB/s at 8 bytes a cell (one read, one write).
 */
#include <omp.h>
#include <stdio.h>
#include <stdlib.h>

static void step(const float *in, float *out, int nx, int ny, int nz, long sx, long sxy, float r) {
#pragma omp parallel for schedule(static)
  for (int k = 1; k <= nz; k++)
    for (int j = 1; j <= ny; j++) {
      const float *restrict c = in + k * sxy + j * sx + 1;
      float *restrict o = out + k * sxy + j * sx + 1;
#pragma omp simd
      for (int i = 0; i < nx; i++)
        o[i] = c[i] + r * (((c[i - 1] + c[i + 1]) + (c[i - sx] + c[i + sx])) + (c[i - sxy] + c[i + sxy]) - 6 * c[i]);
    }
}

static void *room(size_t bytes) {
  void *p = aligned_alloc(64, (bytes + 63) / 64 * 64);
  if (!p) exit(fprintf(stderr, "out of memory\n"));
  return p;
}

static double triad(int rounds) {
  const long n = 24L << 20;
  double *a = room(8 * n), *b = room(8 * n), *c = room(8 * n), best = 1e9;
#pragma omp parallel for schedule(static)
  for (long i = 0; i < n; i++) a[i] = 0, b[i] = 1, c[i] = 2;
  for (int k = 0; k < 3 * rounds; k++) {
    double t = omp_get_wtime();
#pragma omp parallel for simd schedule(static)
    for (long i = 0; i < n; i++) a[i] = b[i] + 3 * c[i];
    t = omp_get_wtime() - t;
    if (t < best) best = t;
  }
  if (a[n / 3] != 7) exit(fprintf(stderr, "triad is wrong\n"));
  free(a), free(b), free(c);
  return 24e-9 * n / best;
}

int main(int argc, char **argv) {
  const int grids[][3] = {{64, 64, 64}, {160, 90, 60}, {256, 256, 256}, {320, 180, 120}};
  int rounds = argc > 1 ? atoi(argv[1]) : 9;
  printf("triad %.1f GB/s\n", triad(rounds));
  for (int g = 0; g < 4; g++) {
    int nx = grids[g][0], ny = grids[g][1], nz = grids[g][2];
    long sx = (nx + 2 + 15) / 16 * 16, sxy = sx * (ny + 2), n = sxy * (nz + 2) + 16;
    float *a = room(4 * n), *b = room(4 * n);
    for (long i = 0; i < n; i++) a[i] = b[i] = 25 + (float)(i * 2654435761u % 1000) / 10;
    double best = 1e9, cells = (double)nx * ny * nz;
    for (int k = 0; k < rounds; k++) {
      int steps = 0;
      double t = omp_get_wtime(), now;
      do {
        step(a, b, nx, ny, nz, sx, sxy, 0.158f);
        step(b, a, nx, ny, nz, sx, sxy, 0.158f);
        steps += 2;
      } while ((now = omp_get_wtime()) - t < 0.1);
      if ((now - t) / steps < best) best = (now - t) / steps;
    }
    printf("kernel %dx%dx%d %.4f ns/cell %.1f GB/s\n", nx, ny, nz, 1e9 * best / cells, 8e-9 * cells / best);
    free(a), free(b);
  }
  return 0;
}
