/* Steps a generated kernel: ROS34PW2 in process-extent form over blocks of 8 members.
 *
 * Rosenbrock-W, 4 stages, order 3(2), L-stable (Rang & Angermann 2005, BIT 45:761). The
 * Jacobian covers the fast states only, which a W-method allows. A step is y + S^T xi
 * with xi the extents of the rows, so every linear invariant is exact to rounding.
 */
#include <math.h>
#include <stdint.h>
#include <string.h>

#include "lanes.h"
#include KERNEL

#define N_EXT (NR + NM)
#ifndef GROWTH
#define GROWTH 4.0 /* most that a step may be longer than the last */
#endif
#define EACH(i, n) for (int i = 0; i < (n); ++i)

/* Land and begin with a small step; go over; land and keep the step. */
enum { BEGIN = 0, PASS = 1, LAND = 2 };
enum { OK = 0, TOO_MANY_STEPS = 1, STEP_TOO_SMALL = 2, NOT_FINITE = 3, CANCELLED = 4 };

static const double G = 0.43586652150845900;
static const double A21 = 0.87173304301691801, A31 = 0.84457060015369423, A32 = -0.11299064236484185;
static const double G21 = -0.87173304301691801, G31 = -0.90338057013044082, G32 = 0.054180672388095326;
static const double G41 = 0.24212380706095346, G42 = -1.2232505839045147, G43 = 0.54526025533510214;
static const double B[4] = {0.24212380706095346, -1.2232505839045147, 1.5452602553351020, 0.43586652150845900};
static const double E[4] = {0.24212380706095346 - 0.37810903145819369, -1.2232505839045147 + 0.096042292212423178,
                            1.5452602553351020 - 0.5, 0.43586652150845900 - 0.21793326075422950};
static const double C[4] = {0.0, 0.87173304301691801, 0.73157995778885238, 1.0};
/* Weights of the stages at a share u of a step: the sum of D[i][j] u^(j+1). Order 3 with the
 * whole Jacobian, 2 with a part of it; at u = 1 they are B. */
static const double D[4][3] = {
    {1.0564298455794094, -1.3864882699759573, 0.5721822314575016},
    {2.296429974281067, -8.262611700275677, 4.742931142090097},
    {-1.307599564525376, 7.250979895056055, -4.398120075195578},
    {-1.045260255335102, 2.398120075195581, -0.9169932983520199}};

typedef struct {
  double tol, h_first, h_max;
  int64_t max_steps;
  int64_t blocks, segments, records, outputs, jumps;
  const double *times;        /* [segments+1] */
  const double *x0, *x1;      /* [segments][NX] forcings at the ends of a segment */
  const int32_t *jump_first;  /* [segments+2] jumps before segment i: first..next first */
  const int32_t *jump_kind;   /* [jumps] */
  const double *jump_args;    /* [jumps][NA] */
  const int32_t *record_at;   /* [segments+1] record taken at the start of segment i, or -1 */
  const int32_t *keep_step;   /* [segments] how steps meet its start: BEGIN, PASS or LAND */
  const int32_t *output;      /* [outputs] positions in the observed list */
  const double *scale;        /* [NS] typical amounts of this tank */
  const double *y_start;      /* [blocks][NS][L] */
  const double *p;            /* [blocks][NP][L] */
  double *y_end;              /* [blocks][NS][L] */
  double *out;                /* [records][outputs][blocks*L] */
  double *low, *high;         /* [records][NT][blocks*L] extremes since the last record, or NULL */
  double *extents;            /* [records][NR+NM][blocks*L] or NULL */
  int32_t *status;            /* [blocks*L] */
  int64_t *steps;             /* [blocks][3] accepted, rejected, limited */
  volatile int32_t *cancel;
  volatile int64_t *progress; /* segments done */
} Job;

/* Whole cache lines: a vector that lies across two of them costs twice. */
typedef struct {
  _Alignas(64) double y[NS * L];
  double p[NP * L + L], z[NS * L], k[4][NS * L], dy[NS * L];
  double q[NQ * L], H[(NI + 1) * L], w[NW * L];
  double first[(NR + 1) * L], r[4][(NR + 1) * L], xi[(NR + 1) * L];
  double jac[(NJ + 1) * L], a[(NAF + 1) * L], m[(NLU + 1) * L], v[(NF + 1) * L], t[(NT + 1) * L], mv[(NMJ + 1) * L];
  double extent[N_EXT * L], low[(NT + 1) * L], high[(NT + 1) * L], x[(NX + 1) * L], o[(NO + 1) * L];
  double then[NS * L], reach[N_EXT * L];
  int status[L], limited[L], there;
} Work;

/* Forcings at a time after the start of segment seg; the same in all lanes, but a loop-wide
 * scalar would keep conditions on it scalar. */
static void forcing(const Job *job, int64_t seg, int64_t last, double t, double *x) {
  while (seg + 1 < last && t > job->times[seg + 1]) ++seg;
  const double a = job->times[seg], b = job->times[seg + 1];
  const double f = (b > a) ? (t - a) / (b - a) : 0.0;
  EACH(i, NX) {
    const double now = job->x0[seg * NX + i] * (1.0 - f) + job->x1[seg * NX + i] * f;
    EACH(l, L) x[i * L + l] = now;
  }
}

/* One stage: Q = r(z), v = h sum gamma_ij k_jF, rho = Q + J (v + g h x) with x solved for. */
static void stage(Work *s, const double *p, int passes, int i, double h) {
  double *r = s->r[i];
  if (i == 0) {
    first_stage(G * h, s->jac, s->m, s->there, s->first, r);
  } else {
    rates(s->z, p, s->q, s->x, NULL, s->H, passes, s->w, r, s->t, s->there);
    const double g1 = h * ((i == 1) ? G21 : (i == 2) ? G31 : G41), g2 = h * ((i == 2) ? G32 : G42);
    EACH(f, NF) LANES {
      const int at = FAST[f] * L + l;
      V sum = g1 * ld(s->k[0] + at);
      if (i > 1) sum += g2 * ld(s->k[1] + at);
      if (i > 2) sum += h * G43 * ld(s->k[2] + at);
      st(s->v + f * L + l, sum);
    }
    later_stage(G * h, s->jac, s->m, s->there, s->a, s->v, r);
  }
  change_of(r, s->k[i]);
}

static void stage_state(Work *s, int i, double h) {
  const double a1 = h * ((i == 1) ? A21 : A31), a2 = h * A32;
  EACH(n, NS) LANES {
    const int at = n * L + l;
    V step;
    if (i == 1) step = a1 * ld(s->k[0] + at);
    else if (i == 2) step = a1 * ld(s->k[0] + at) + a2 * ld(s->k[1] + at);
    else step = h * ld(s->k[2] + at);
    st(s->z + at, most(all(LOWEST[n]), ld(s->y + at) + step));
  }
}

/* Scale back the extents of a lane so that no floored state falls below zero. */
static void limit_lane(Work *s, int l) {
  double w[NS], made[NS], lost[NS];
  for (int credit = 1; credit >= 0; --credit) {
    EACH(n, NS) made[n] = lost[n] = 0.0;
    EACH(r, NR) for (int e = S_START[r]; e < S_START[r + 1]; ++e) {
      if (!FLOORED[S_STATE[e]]) continue;
      double q = s->xi[r * L + l];
      q = (q < 0.0) ? 0.0 : q;
      const double c = S_COEF[e] * q;
      if (c < 0.0) lost[S_STATE[e]] -= c; else made[S_STATE[e]] += c;
    }
    EACH(n, NS) {
      const double now = s->y[n * L + l], have = ((now > 0.0) ? now : 0.0) + (credit ? made[n] : 0.0);
      w[n] = (lost[n] > have) ? 0.9999 * have / lost[n] : 1.0;
    }
    EACH(r, NR) {
      double least = 1.0;
      int touches = 0;
      for (int e = S_START[r]; e < S_START[r + 1]; ++e) {
        const int n = S_STATE[e];
        if (!FLOORED[n]) continue;
        touches = 1;
        if (S_COEF[e] < 0.0 && w[n] < least) least = w[n];
      }
      if (touches) {
        const double q = s->xi[r * L + l];
        s->xi[r * L + l] = ((q < 0.0) ? 0.0 : q) * least;
      }
    }
    int good = 1;
    EACH(n, NS) w[n] = s->y[n * L + l];
    EACH(r, NR) for (int e = S_START[r]; e < S_START[r + 1]; ++e) w[S_STATE[e]] += S_COEF[e] * s->xi[r * L + l];
    EACH(n, NS) if (FLOORED[n] && w[n] < 0.0) good = 0;
    if (good) return;
  }
}

/* Mean square error of each lane, in tolerances. */
static void error_of(const Work *s, const Job *job, double h, double *sum) {
  LANES {
    V total = all(0.0);
    EACH(n, NS) {
      const int at = n * L + l;
      const V e = E[0] * ld(s->k[0] + at) + E[1] * ld(s->k[1] + at) + E[2] * ld(s->k[2] + at) + E[3] * ld(s->k[3] + at);
      const V part = e * over(job->scale[n] + size(ld(s->y + at)));
      total += part * part;
    }
    st(sum + l, total * (h * h / (NS * job->tol * job->tol)));
  }
}

/* The lane with the largest of some numbers, NaN above all, among those still going; or -1. */
static int worst_lane(const Work *s, const double *of) {
  int worst = -1;
  EACH(l, L) if (s->status[l] == OK)
    if (worst < 0 || of[l] > of[worst] || (of[l] != of[l] && of[worst] == of[worst])) worst = l;
  return worst;
}

/* Take a lane out, so that it does not stop its block. */
static void drop(Work *s, int l, int status) {
  s->status[l] = status;
  EACH(n, NS) s->y[n * L + l] = NAN;
}

/* What lies below a floor by no more than rounding lies on it. */
static V on_floor(V y, int n, double scale) {
  const V floor = all(LOWEST[n]);
  return pick(both(lt(y, floor), gt(y, floor - 1e-12 * scale)), floor, y);
}

static void extents_of_step(Work *s, double h) {
  const double b0 = h * B[0], b1 = h * B[1], b2 = h * B[2], b3 = h * B[3];
  _Pragma("omp simd")
  for (int n = 0; n < NR * L; ++n)
    s->xi[n] = b0 * s->r[0][n] + b1 * s->r[1][n] + b2 * s->r[2][n] + b3 * s->r[3][n];
}

/* Go on to the states at the end of the step; scale back the extents of lanes that would
 * fall below a floor. The extents themselves are worked out only where they are needed.
 */
static int take(Work *s, const Job *job, double h) {
  double low[L], wrong[L];
  int limited = 0;
  const double b0 = h * B[0], b1 = h * B[1], b2 = h * B[2], b3 = h * B[3];
  LANES {
    V least_left = all(0.0);
    EACH(n, NS) {
      const int at = n * L + l;
      const V d = b0 * ld(s->k[0] + at) + b1 * ld(s->k[1] + at) + b2 * ld(s->k[2] + at) + b3 * ld(s->k[3] + at);
      st(s->dy + at, d);
      least_left = least(ld(s->y + at) + d - LOWEST[n], least_left);
    }
    st(low + l, least_left);
  }
  EACH(l, L) limited += (s->limited[l] = low[l] < 0.0);
  if (limited || job->extents) extents_of_step(s, h);
  if (limited) {
    EACH(l, L) if (s->limited[l]) limit_lane(s, l);
    change_of(s->xi, s->z);
    EACH(n, NS) EACH(l, L) if (s->limited[l]) s->dy[n * L + l] = s->z[n * L + l];
  }
  LANES {
    V nothing = all(0.0);
    EACH(n, NS) {
      const int at = n * L + l;
      const V before = ld(s->y + at), y = before + ld(s->dy + at);
      st(s->then + at, before);
      st(s->y + at, on_floor(y, n, job->scale[n]));
      nothing += 0.0 * y;
    }
    st(wrong + l, nothing);
  }
  if (job->extents) {
    _Pragma("omp simd")
    for (int n = 0; n < NR * L; ++n) s->extent[n] += s->xi[n];
  }
  EACH(l, L) if (wrong[l] != 0.0 && s->status[l] == OK) drop(s, l, NOT_FINITE);
  return limited;
}

static void note_extremes(Work *s) {
  EACH(n, NT * L) {
    s->low[n] = (s->t[n] < s->low[n]) ? s->t[n] : s->low[n];
    s->high[n] = (s->t[n] > s->high[n]) ? s->t[n] : s->high[n];
  }
}

/* Take a record of the states and extents given, at the start of a segment. */
static void record(Work *s, const Job *job, const double *p, int64_t seg, int64_t block, const double *y, const double *extent) {
  double kept[(NI + 1) * L]; /* what is recorded must not change how the run goes on */
  memcpy(kept, s->H, sizeof kept);
  const int64_t at = job->record_at[seg], lanes = job->blocks * L;
  const int64_t in = (seg < job->segments) ? seg : seg - 1;
  forcing(job, in, in + 1, job->times[seg], s->x);
  observe(y, p, s->q, s->x, NULL, s->H, 8, s->w, s->o);
  if (NT) {
    rates(y, p, s->q, s->x, NULL, s->H, 8, s->w, s->first, s->t, s->there);
    note_extremes(s);
  }
  EACH(l, L) {
    const int64_t lane = block * L + l;
    const double lost = (s->status[l] == OK) ? 0.0 : NAN;
    EACH(i, job->outputs) job->out[(at * job->outputs + i) * lanes + lane] = s->o[job->output[i] * L + l] + lost;
    if (job->low) EACH(i, NT) {
      job->low[(at * NT + i) * lanes + lane] = s->low[i * L + l] + lost;
      job->high[(at * NT + i) * lanes + lane] = s->high[i * L + l] + lost;
    }
    if (job->extents) EACH(i, N_EXT) job->extents[(at * N_EXT + i) * lanes + lane] = extent[i * L + l] + lost;
  }
  memcpy(s->H, kept, sizeof kept);
  const int inside = y != s->y;
  EACH(n, NT * L) {
    s->low[n] = inside ? s->t[n] : INFINITY;
    s->high[n] = inside ? s->t[n] : -INFINITY;
  }
}

/* Records from segment `at` on that lie inside the step just taken, from h before to t; the
 * states before it are in `then`. Gives the first segment that starts later. */
static int64_t records_inside(Work *s, const Job *job, const double *p, int64_t at, int64_t last, int64_t block, double t, double h) {
  for (; at < last && job->times[at] <= t; ++at) {
    if (job->record_at[at] < 0) continue;
    const double share = 1.0 - (t - job->times[at]) / h, u = (share < 0.0) ? 0.0 : share;
    double d[4];
    EACH(i, 4) d[i] = h * u * (D[i][0] + u * (D[i][1] + u * D[i][2]));
    EACH(n, NS) EACH(l, L) {
      const int i = n * L + l;
      const double now = s->then[i] + d[0] * s->k[0][i] + d[1] * s->k[1][i] + d[2] * s->k[2][i] + d[3] * s->k[3][i];
      const double y = s->limited[l] ? s->then[i] + u * (s->y[i] - s->then[i]) : now;
      s->z[i] = (y < LOWEST[n]) ? LOWEST[n] : y;
    }
    if (job->extents) {
      memcpy(s->reach, s->extent, sizeof s->reach);
      EACH(n, NR) EACH(l, L) {
        const int i = n * L + l;
        const double now = d[0] * s->r[0][i] + d[1] * s->r[1][i] + d[2] * s->r[2][i] + d[3] * s->r[3][i];
        s->reach[i] += (s->limited[l] ? u * s->xi[i] : now) - s->xi[i];
      }
    }
    record(s, job, p, at, block, s->z, s->reach);
  }
  return at;
}

/* See who is there: the rows of others stand still, and are zero from here on. */
static void look_around(Work *s) {
  int there = 0;
  EACH(g, NG) for (int e = G_START[g]; e < G_START[g + 1]; ++e)
    EACH(l, L) if (s->y[G_STATE[e] * L + l] != 0.0) there |= 1 << g;
  if (there == s->there) return;
  s->there = there;
  memset(s->first, 0, sizeof s->first);
  memset(s->r, 0, sizeof s->r);
  memset(s->jac, 0, sizeof s->jac);
}

/* Step from the start of a segment to that of another, where something happens next. */
static void span(Work *s, const Job *job, const double *p, int64_t seg, int64_t last, int64_t block, double *h_last, int64_t *steps) {
  const double end = job->times[last];
  const int kept = job->keep_step[seg] == LAND;
  double t = job->times[seg], left = end - t, h = kept ? *h_last : job->h_first;
  int passes = kept ? 3 : 16, fresh = 1;
  int64_t tries = 0, ahead = seg + 1;
  double sum[L], blame[L] = {0};
  while (left > 0.0) {
    if (++tries > job->max_steps) {
      drop(s, worst_lane(s, blame), TOO_MANY_STEPS);
      if (worst_lane(s, blame) < 0) return;
      tries = 0;
      h = job->h_first;
      fresh = 1;
    }
    if (h > job->h_max) h = job->h_max;
    const double wanted = h;
    if (h >= left * 0.999) h = left; else if (h > 0.5 * left) h = 0.5 * left;
    if (fresh) {
      while (seg + 1 < last && t >= job->times[seg + 1]) ++seg;
      forcing(job, seg, last, t, s->x);
      rates_jacobian(s->y, p, s->q, s->x, NULL, s->H, passes, s->w, s->first, s->t, s->jac, s->there);
      fast_matrix(s->jac, s->a);
      note_extremes(s);
      fresh = 0;
      passes = 3;
    }
    factor(G * h, s->a, s->m);
    for (int i = 0; i < 4; ++i) {
      if (i > 0) {
        stage_state(s, i, h);
        forcing(job, seg, last, t + C[i] * h, s->x);
      }
      stage(s, p, passes, i, h);
    }
    error_of(s, job, h, sum);
    const int worst = worst_lane(s, sum);
    blame[worst] += 1.0;
    const double error = (sum[worst] < 1e12) ? sqrt(sum[worst]) : 1e6;
    double f = (error > 0.0) ? 0.9 * cbrt(1.0 / error) : GROWTH;
    f = (f > GROWTH) ? GROWTH : (f < 0.2) ? 0.2 : f;
    if (error > 1.0) {
      steps[1]++;
      h *= f;
      if (h < 1e-9) {
        drop(s, worst, (sum[worst] == sum[worst]) ? STEP_TOO_SMALL : NOT_FINITE);
        if (worst_lane(s, sum) < 0) return;
        h = job->h_first;
        fresh = 1;
      }
      continue;
    }
    steps[2] += take(s, job, h);
    if (worst_lane(s, sum) < 0) return;
    steps[0]++;
    left -= h;
    t = end - left;
    ahead = records_inside(s, job, p, ahead, last, block, t, h);
    h = *h_last = (h < wanted && h * f < wanted) ? wanted : h * f;
    fresh = 1;
  }
}

static void run_block(Work *s, const Job *job, int64_t block) {
  const double *p = s->p;
  int64_t *steps = job->steps + 3 * block;
  memcpy(s->y, job->y_start + block * NS * L, sizeof s->y);
  memcpy(s->p, job->p + block * NP * L, NP * L * sizeof(double));
  memset(s->extent, 0, sizeof s->extent);
  EACH(i, NI) EACH(l, L) s->H[i * L + l] = H_START[i];
  EACH(n, NT * L) { s->low[n] = INFINITY; s->high[n] = -INFINITY; }
  prepare(p, s->q);
  EACH(l, L) s->status[l] = OK;
  double h = job->h_first;
  s->there = -1;
  int64_t next;
  for (int64_t seg = 0; seg <= job->segments; seg = next) {
    if (job->record_at[seg] >= 0) record(s, job, p, seg, block, s->y, s->extent);
    if (seg == job->segments) break;
    forcing(job, seg, seg + 1, job->times[seg], s->x);
    for (int j = job->jump_first[seg]; j < job->jump_first[seg + 1]; ++j)
      apply_jump(job->jump_kind[j], s->y, p, s->q, s->x, job->jump_args + (int64_t)j * NA, s->H, 16, s->w, s->mv, s->extent);
    if (job->jump_first[seg] < job->jump_first[seg + 1])
      EACH(n, NS) LANES st(s->y + n * L + l, on_floor(ld(s->y + n * L + l), n, job->scale[n]));
    for (next = seg + 1; next < job->segments && job->keep_step[next] == PASS; ++next);
    look_around(s);
    if (worst_lane(s, s->y) >= 0) span(s, job, p, seg, next, block, &h, steps);
    if (job->cancel && *job->cancel) {
      EACH(l, L) s->status[l] = CANCELLED;
      break;
    }
    if (job->progress) __atomic_fetch_add(job->progress, next - seg, __ATOMIC_RELAXED);
  }
  memcpy(job->y_end + block * NS * L, s->y, sizeof s->y);
  EACH(l, L) job->status[block * L + l] = s->status[l];
}

int64_t pleuston_run(const Job *job, int64_t first, int64_t last) {
  static _Thread_local Work work;
  for (int64_t b = first; b < last; ++b) run_block(&work, job, b);
  return last - first;
}

static void spread(const double *x, double *lanes) {
  EACH(i, NX) EACH(l, L) lanes[i * L + l] = x[i];
}

/* Rates and changes of one block, for tests and for other solvers. */
void pleuston_rates(const double *y, const double *p, const double *x, double *H, int passes, double *r, double *dy) {
  static _Thread_local double q[NQ * L], w[NW * L], lanes[(NX + 1) * L], t[(NT + 1) * L];
  prepare(p, q);
  spread(x, lanes);
  rates(y, p, q, lanes, NULL, H, passes, w, r, t, ~0);
  change_of(r, dy);
}

void pleuston_observe(const double *y, const double *p, const double *x, double *H, int passes, double *o) {
  static _Thread_local double q[NQ * L], w[NW * L], lanes[(NX + 1) * L];
  prepare(p, q);
  spread(x, lanes);
  observe(y, p, q, lanes, NULL, H, passes, w, o);
}

void pleuston_jacobian(const double *y, const double *p, const double *x, double *H, int passes, double *r, double *j) {
  static _Thread_local double q[NQ * L], w[NW * L], lanes[(NX + 1) * L], t[(NT + 1) * L];
  prepare(p, q);
  spread(x, lanes);
  rates_jacobian(y, p, q, lanes, NULL, H, passes, w, r, t, j, ~0);
}

void pleuston_jump(int kind, double *y, const double *p, const double *x, const double *a, double *H, double *extent) {
  static _Thread_local double q[NQ * L], w[NW * L], lanes[(NX + 1) * L], m[(NMJ + 1) * L];
  prepare(p, q);
  spread(x, lanes);
  apply_jump(kind, y, p, q, lanes, a, H, 16, w, m, extent);
}

const char *pleuston_hash(void) { return KERNEL_HASH; }

void pleuston_sizes(int64_t *s) {
  const int64_t sizes[] = {L, NS, NR, NM, NP, NX, NA, NI, NF, NO, NT, NJ};
  memcpy(s, sizes, sizeof sizes);
}
