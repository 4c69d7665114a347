/* Cells of a body in C, beside the benchmark of internal/shape/voxel: centre
 * samples by winding number, N cells on the longest side, one byte each.
 *
 *   gcc -O3 -march=native cells.c -o cells -lm -lpthread
 *   cells BODY N THREADS ROUNDS       (BODY as written by bench/peers/body)
 *
 * The same method as in Go: lines along x; each row of a triangle ends where
 * its edges cross the row, edges computed from their lower to their upper
 * corner; one pass over the triangles stores the crossings, a counting sort
 * brings them to their lines. Threads share the triangles first, then the rows.
 */
#include <math.h>
#include <pthread.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

typedef struct {
  float x;
  int32_t key; /* line times two, plus one where the line leaves */
} cross;

enum { MAXTHREADS = 16 };

static uint32_t corners, triangles;
static double *corner;
static uint32_t *triangle;
static int nx, ny, nz, threads;
static double edge, origin[3];
static uint8_t *cell;

typedef struct {
  cross *list;
  size_t len, cap;
} pile;

/* found[t][b]: crossings that thread t met in the rows of thread b. */
static pile found[MAXTHREADS][MAXTHREADS];
static pthread_barrier_t gate;

static void *must(void *p) {
  if (!p) {
    fprintf(stderr, "out of memory\n");
    exit(1);
  }
  return p;
}

static inline void put(pile *p, float x, int32_t key) {
  if (p->len == p->cap) {
    p->cap = p->cap ? 2 * p->cap : 4096;
    p->list = must(realloc(p->list, p->cap * sizeof(cross)));
  }
  p->list[p->len++] = (cross){x, key};
}

static inline double slope(double du, double dv) {
  double s = du / dv;
  return s - s == 0 ? s : 0;
}

static inline void swap(double *a, double *b) {
  double t = *a;
  *a = *b;
  *b = t;
}

static int first_row(int band) { return (int)((long)nz * band / threads); }

/* u and v count lines along y and z; w is x. */
static void scan(int me, const double *p, const double *q, const double *r) {
  double u0 = p[1], u1 = q[1], u2 = r[1];
  double lo = fmin(u0, fmin(u1, u2)), hi = fmax(u0, fmax(u1, u2));
  double slack = 1e-9 * (1 + hi - lo);
  if (lo > ny - 1 + 1e-6 || hi < -1e-6 || (hi > 0 && floor(hi + slack) < lo - slack)) return;
  double v0 = p[2], v1 = q[2], v2 = r[2];
  int j0 = (int)ceil(fmin(v0, fmin(v1, v2))), j1 = (int)ceil(fmax(v0, fmax(v1, v2)));
  if (j0 < 0) j0 = 0;
  if (j1 > nz) j1 = nz;
  if (j0 >= j1) return;
  double du1 = u1 - u0, dv1 = v1 - v0, dw1 = q[0] - p[0], du2 = u2 - u0, dv2 = v2 - v0, dw2 = r[0] - p[0];
  double area = du1 * dv2 - du2 * dv1, gu = 0, gv = 0, ua = u0, va = v0;
  if (area != 0) gu = (dw1 * dv2 - dw2 * dv1) / area, gv = (du1 * dw2 - du2 * dw1) / area;
  double low = fmin(p[0], fmin(q[0], r[0])), high = fmax(p[0], fmax(q[0], r[0]));
  int turned = 0;
  if (v1 < v0) swap(&u0, &u1), swap(&v0, &v1), turned ^= 1;
  if (v2 < v1) {
    swap(&u1, &u2), swap(&v1, &v2), turned ^= 1;
    if (v1 < v0) swap(&u0, &u1), swap(&v0, &v1), turned ^= 1;
  }
  double sl = slope(u2 - u0, v2 - v0), s0 = slope(u1 - u0, v1 - v0), s1 = slope(u2 - u1, v2 - v1);
  int jm = (int)ceil(v1), band = 0;
  while (first_row(band + 1) <= j0) band++;
  for (int j = j0; j < j1; j++) {
    int a = (int)ceil(u0 + (j - v0) * sl);
    int b = (int)ceil(j < jm ? u0 + (j - v0) * s0 : u1 + (j - v1) * s1);
    int leaves = !turned;
    if (a > b) {
      int t = a;
      a = b;
      b = t;
      leaves = turned;
    }
    if (a < 0) a = 0;
    if (b > ny) b = ny;
    if (a >= b) continue;
    while (first_row(band + 1) <= j) band++;
    double base = p[0] + gv * (j - va);
    for (int i = a; i < b; i++) {
      double w = base + gu * (i - ua);
      w = w < low ? low : w > high ? high : w;
      put(&found[me][band], (float)w, (j * ny + i) * 2 + leaves);
    }
  }
}

static int clamp(int x, int n) { return x < 0 ? 0 : x > n ? n : x; }

static void fill(int band) {
  int line0 = first_row(band) * ny, lines = first_row(band + 1) * ny - line0;
  int32_t *at = must(calloc(lines + 2, sizeof *at));
  size_t total = 0;
  for (int t = 0; t < threads; t++) {
    pile *p = &found[t][band];
    for (size_t k = 0; k < p->len; k++) at[(p->list[k].key >> 1) - line0 + 2]++;
    total += p->len;
  }
  for (int q = 2; q <= lines; q++) at[q] += at[q - 1];
  cross *x = must(malloc((total + 1) * sizeof *x));
  for (int t = 0; t < threads; t++) {
    pile *p = &found[t][band];
    for (size_t k = 0; k < p->len; k++) x[at[(p->list[k].key >> 1) - line0 + 1]++] = p->list[k];
  }
  for (int q = 0; q < lines; q++) {
    cross *l = x + at[q];
    int n = at[q + 1] - at[q], w = 0;
    for (int i = 1; i < n; i++) {
      cross k = l[i];
      int j = i;
      for (; j > 0 && (k.x < l[j - 1].x || (k.x == l[j - 1].x && k.key < l[j - 1].key)); j--) l[j] = l[j - 1];
      l[j] = k;
    }
    double from = 0;
    for (int i = 0; i < n; i++) {
      int was = w;
      w += l[i].key & 1 ? -1 : 1;
      if (was <= 0 && w > 0) from = l[i].x;
      if (was > 0 && w <= 0) {
        int a = clamp((int)ceil((from - origin[0]) / edge - 0.5), nx), b = clamp((int)ceil((l[i].x - origin[0]) / edge - 0.5), nx);
        if (b > a) memset(cell + (size_t)(line0 + q) * nx + a, 1, b - a);
      }
    }
  }
  free(at);
  free(x);
}

static double *frame; /* corners as x in mm, y and z in lines */

static void *job(void *arg) {
  int me = (int)(intptr_t)arg;
  for (uint32_t i = (uint64_t)corners * me / threads; i < (uint64_t)corners * (me + 1) / threads; i++) {
    frame[3 * (size_t)i] = corner[3 * (size_t)i];
    for (int k = 1; k < 3; k++) frame[3 * (size_t)i + k] = (corner[3 * (size_t)i + k] - origin[k]) / edge - 0.5;
  }
  pthread_barrier_wait(&gate);
  for (int b = 0; b < threads; b++) found[me][b].len = 0;
  for (uint32_t t = (uint64_t)triangles * me / threads; t < (uint64_t)triangles * (me + 1) / threads; t++) {
    const uint32_t *f = triangle + 3 * (size_t)t;
    scan(me, frame + 3 * (size_t)f[0], frame + 3 * (size_t)f[1], frame + 3 * (size_t)f[2]);
  }
  pthread_barrier_wait(&gate);
  fill(me);
  return NULL;
}

static double seconds(clockid_t clock) {
  struct timespec t;
  clock_gettime(clock, &t);
  return t.tv_sec + 1e-9 * t.tv_nsec;
}

static int up(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return x < y ? -1 : x > y;
}

int main(int argc, char **argv) {
  uint32_t n[2];
  FILE *f = argc == 5 ? fopen(argv[1], "rb") : NULL;
  if (!f || fread(n, 4, 2, f) != 2) {
    fprintf(stderr, "usage: cells BODY N THREADS ROUNDS\n");
    return 2;
  }
  corners = n[0], triangles = n[1];
  corner = must(malloc(24 * (size_t)corners));
  frame = must(malloc(24 * (size_t)corners));
  triangle = must(malloc(12 * (size_t)triangles));
  if (fread(corner, 24, corners, f) != corners || fread(triangle, 12, triangles, f) != triangles) return 2;
  fclose(f);
  int cells = atoi(argv[2]), rounds = atoi(argv[4]);
  threads = atoi(argv[3]);
  if (cells < 1 || rounds < 1 || threads < 1 || threads > MAXTHREADS) return 2;
  double lo[3] = {1e300, 1e300, 1e300}, hi[3] = {-1e300, -1e300, -1e300}, longest = 0;
  for (size_t i = 0; i < 3 * (size_t)triangles; i++)
    for (int k = 0; k < 3; k++) {
      lo[k] = fmin(lo[k], corner[3 * (size_t)triangle[i] + k]);
      hi[k] = fmax(hi[k], corner[3 * (size_t)triangle[i] + k]);
    }
  for (int k = 0; k < 3; k++) longest = fmax(longest, hi[k] - lo[k]);
  edge = longest / cells;
  int *side[3] = {&nx, &ny, &nz};
  for (int k = 0; k < 3; k++) {
    *side[k] = (int)fmax(1, ceil((hi[k] - lo[k]) / edge - 1e-9));
    origin[k] = (lo[k] + hi[k]) / 2 - *side[k] * edge / 2;
  }
  pthread_barrier_init(&gate, NULL, threads);
  double *t = must(malloc(rounds * sizeof *t)), cpu = 1e300;
  size_t all = (size_t)nx * ny * nz, inside = 0;
  for (int r = -1; r < rounds; r++) {
    double at = seconds(CLOCK_MONOTONIC), used = seconds(CLOCK_PROCESS_CPUTIME_ID);
    cell = must(calloc(all, 1));
    pthread_t th[MAXTHREADS];
    for (int w = 0; w < threads; w++) pthread_create(&th[w], NULL, job, (void *)(intptr_t)w);
    for (int w = 0; w < threads; w++) pthread_join(th[w], NULL);
    if (r >= 0) {
      t[r] = seconds(CLOCK_MONOTONIC) - at;
      cpu = fmin(cpu, seconds(CLOCK_PROCESS_CPUTIME_ID) - used);
    }
    inside = 0;
    for (size_t i = 0; i < all; i++) inside += cell[i];
    free(cell);
  }
  qsort(t, rounds, sizeof *t, up);
  printf("cells in C, %d x %d x %d, %u triangles, %d thread(s)  best %8.3f  median %8.3f  processor %8.3f ms  (%zu cells)\n", nx, ny, nz,
         triangles, threads, t[0] * 1e3, t[rounds / 2] * 1e3, cpu * 1e3, inside);
  return 0;
}
