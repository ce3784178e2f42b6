/* One tank at a time for other solvers: the same generated kernel and stepper, one lane wide.
 *
 * What depends on parameters alone is prepared once, forcings are read from the same
 * timeline, and the acid-base balance starts from where the last call left it.
 */
#include STEPPER

typedef struct {
  int64_t segments, at, calls;
  const double *times, *x0, *x1, *p;
  double q[NQ * L], H[(NI + 1) * L], w[NW * L], r[(NR + 1) * L], t[(NT + 1) * L], z[NS * L];
  double x[NX + 1], m[(NMJ + 1) * L], extent[N_EXT * L];
  int there; /* who is there, as the stepper sees it */
} World;

int64_t world_size(void) { return sizeof(World); }

void world_start(World *s, int64_t segments, const double *times, const double *x0, const double *x1, const double *p) {
  memset(s, 0, sizeof *s);
  s->segments = segments;
  s->times = times; s->x0 = x0; s->x1 = x1; s->p = p;
  EACH(i, NI) s->H[i] = H_START[i];
  prepare(p, s->q);
  memset(s->z, 0, sizeof s->z);
}

static void forcing_at(World *s, double t) {
  while (s->at > 0 && t < s->times[s->at]) s->at--;
  while (s->at < s->segments - 1 && t >= s->times[s->at + 1]) s->at++;
  const double a = s->times[s->at], b = s->times[s->at + 1], f = (t - a) / (b - a);
  EACH(i, NX) s->x[i] = s->x0[s->at * NX + i] * (1.0 - f) + s->x1[s->at * NX + i] * f;
}

/* Keep a solver that looks back across a switch on this side of it. */
static int64_t first_segment, last_segment;
void world_span(World *s, int64_t first, int64_t last) { (void)s; first_segment = first; last_segment = last; }

void world_change(World *s, double t, const double *y, double *dy) {
  const double low = s->times[first_segment], high = s->times[last_segment];
  s->calls++;
  forcing_at(s, (t < low) ? low : (t > high) ? high : t);
  if (s->at < first_segment) { s->at = first_segment; }
  if (s->at >= last_segment) { s->at = last_segment - 1; EACH(i, NX) s->x[i] = s->x1[s->at * NX + i]; }
  EACH(n, NS) s->z[n] = (FLOORED[n] && y[n] < 0.0) ? 0.0 : y[n];
  rates(s->z, s->p, s->q, s->x, NULL, s->H, 3, s->w, s->r, s->t, s->there);
  change_of(s->r, dy);
}

void world_jump(World *s, int kind, double t, const double *a, double *y) {
  forcing_at(s, t);
  apply_jump(kind, y, s->p, s->q, s->x, a, s->H, 16, s->w, s->m, s->extent);
}

/* Settle the acid-base balance after a jump, as the stepper does. */
void world_settle(World *s, double t, const double *y) {
  forcing_at(s, t);
  EACH(n, NS) s->z[n] = (FLOORED[n] && y[n] < 0.0) ? 0.0 : y[n];
  s->there = 0;
  EACH(g, NG) for (int e = G_START[g]; e < G_START[g + 1]; ++e)
    if (s->z[G_STATE[e]] != 0.0) s->there |= 1 << g;
  memset(s->r, 0, sizeof s->r);
  rates(s->z, s->p, s->q, s->x, NULL, s->H, 16, s->w, s->r, s->t, s->there);
}
