/* Several members at once: V holds VL lanes of a block, M one truth value a lane.
 *
 * The width follows the instruction set that this file is compiled for. One lane wide
 * (-DL=1) everything is an ordinary double.
 */
#ifndef L
#define L 8
#endif

#if L == 1
#define VL 1
typedef double V;
typedef int M;
typedef int64_t I;
typedef uint64_t U;
#elif defined(__AVX512F__) && defined(__AVX512DQ__)
#include <immintrin.h>
#define VL 8
typedef __m512d V;
typedef __mmask8 M;
#elif defined(__AVX__)
#include <immintrin.h>
#define VL 4
typedef __m256d V;
typedef __m256d M;
#elif defined(__SSE4_1__)
#include <immintrin.h>
#define VL 2
typedef __m128d V;
typedef __m128d M;
#else
#define VL 8
typedef double V __attribute__((vector_size(64)));
typedef int64_t M __attribute__((vector_size(64)));
#endif
#if VL > 1
typedef int64_t I __attribute__((vector_size(8 * VL)));
typedef uint64_t U __attribute__((vector_size(8 * VL)));
#endif

#define LANES for (int l = 0; l < L; l += VL)
/* Read memory again rather than keep what was read: there are more values than registers. */
#define READ_AGAIN __asm__ volatile("" ::: "memory")
#define FN static inline __attribute__((always_inline))

#if VL == 1
FN V ld(const double *a) { return *a; }
FN void st(double *a, V v) { *a = v; }
FN V all(double c) { return c; }
FN M gt(V a, V b) { return a > b; }
FN M ge(V a, V b) { return a >= b; }
FN M lt(V a, V b) { return a < b; }
FN M le(V a, V b) { return a <= b; }
FN M both(M a, M b) { return a & b; }
FN M either(M a, M b) { return a | b; }
FN V pick(M m, V a, V b) { return m ? a : b; }
FN V most(V a, V b) { return a > b ? a : b; }
FN V least(V a, V b) { return a < b ? a : b; }
FN V size(V a) { return fabs(a); }
FN V root(V a) { return sqrt(a); }
FN I bits(V v) { I b; memcpy(&b, &v, 8); return b; }
FN V from_bits(I b) { V v; memcpy(&v, &b, 8); return v; }
#else
FN I bits(V v) { return (I)v; }
FN V from_bits(I b) { return (V)b; }
#if defined(__AVX512F__) && defined(__AVX512DQ__)
FN V ld(const double *a) { return _mm512_loadu_pd(a); }
FN void st(double *a, V v) { _mm512_storeu_pd(a, v); }
FN V all(double c) { return _mm512_set1_pd(c); }
FN M gt(V a, V b) { return _mm512_cmp_pd_mask(a, b, _CMP_GT_OQ); }
FN M ge(V a, V b) { return _mm512_cmp_pd_mask(a, b, _CMP_GE_OQ); }
FN M lt(V a, V b) { return _mm512_cmp_pd_mask(a, b, _CMP_LT_OQ); }
FN M le(V a, V b) { return _mm512_cmp_pd_mask(a, b, _CMP_LE_OQ); }
FN M both(M a, M b) { return a & b; }
FN M either(M a, M b) { return a | b; }
FN V pick(M m, V a, V b) { return _mm512_mask_blend_pd(m, b, a); }
FN V most(V a, V b) { return _mm512_max_pd(a, b); }
FN V least(V a, V b) { return _mm512_min_pd(a, b); }
FN V size(V a) { return _mm512_abs_pd(a); }
FN V root(V a) { return _mm512_sqrt_pd(a); }
#elif defined(__AVX__)
FN V ld(const double *a) { return _mm256_loadu_pd(a); }
FN void st(double *a, V v) { _mm256_storeu_pd(a, v); }
FN V all(double c) { return _mm256_set1_pd(c); }
FN M gt(V a, V b) { return _mm256_cmp_pd(a, b, _CMP_GT_OQ); }
FN M ge(V a, V b) { return _mm256_cmp_pd(a, b, _CMP_GE_OQ); }
FN M lt(V a, V b) { return _mm256_cmp_pd(a, b, _CMP_LT_OQ); }
FN M le(V a, V b) { return _mm256_cmp_pd(a, b, _CMP_LE_OQ); }
FN M both(M a, M b) { return _mm256_and_pd(a, b); }
FN M either(M a, M b) { return _mm256_or_pd(a, b); }
FN V pick(M m, V a, V b) { return _mm256_blendv_pd(b, a, m); }
FN V most(V a, V b) { return _mm256_max_pd(a, b); }
FN V least(V a, V b) { return _mm256_min_pd(a, b); }
FN V size(V a) { return _mm256_andnot_pd(_mm256_set1_pd(-0.0), a); }
FN V root(V a) { return _mm256_sqrt_pd(a); }
#elif defined(__SSE4_1__)
FN V ld(const double *a) { return _mm_loadu_pd(a); }
FN void st(double *a, V v) { _mm_storeu_pd(a, v); }
FN V all(double c) { return _mm_set1_pd(c); }
FN M gt(V a, V b) { return _mm_cmpgt_pd(a, b); }
FN M ge(V a, V b) { return _mm_cmpge_pd(a, b); }
FN M lt(V a, V b) { return _mm_cmplt_pd(a, b); }
FN M le(V a, V b) { return _mm_cmple_pd(a, b); }
FN M both(M a, M b) { return _mm_and_pd(a, b); }
FN M either(M a, M b) { return _mm_or_pd(a, b); }
FN V pick(M m, V a, V b) { return _mm_blendv_pd(b, a, m); }
FN V most(V a, V b) { return _mm_max_pd(a, b); }
FN V least(V a, V b) { return _mm_min_pd(a, b); }
FN V size(V a) { return _mm_andnot_pd(_mm_set1_pd(-0.0), a); }
FN V root(V a) { return _mm_sqrt_pd(a); }
#else
FN V ld(const double *a) { V v; memcpy(&v, a, sizeof v); return v; }
FN void st(double *a, V v) { memcpy(a, &v, sizeof v); }
FN V all(double c) { V v; for (int i = 0; i < VL; ++i) v[i] = c; return v; }
FN M gt(V a, V b) { return a > b; }
FN M ge(V a, V b) { return a >= b; }
FN M lt(V a, V b) { return a < b; }
FN M le(V a, V b) { return a <= b; }
FN M both(M a, M b) { return a & b; }
FN M either(M a, M b) { return a | b; }
FN V pick(M m, V a, V b) { return from_bits((bits(a) & m) | (bits(b) & ~m)); }
FN V most(V a, V b) { return pick(a > b, a, b); }
FN V least(V a, V b) { return pick(a < b, a, b); }
FN V size(V a) { return from_bits(bits(a) & INT64_MAX); }
FN V root(V a) { for (int i = 0; i < VL; ++i) a[i] = sqrt(a[i]); return a; }
#endif
#endif

#if VL == 8 && defined(__AVX512F__) && defined(__AVX512DQ__)
/* 14 bits of the reciprocal, then 28, then all; zero, infinity and NaN as a division has them. */
FN V over(V a) {
  const V first = _mm512_rcp14_pd(a);
  const V second = first + first * (1.0 - a * first);
  const V last = second + second * (1.0 - a * second);
  return _mm512_fixupimm_pd(last, a, _mm512_set1_epi64(0x870622), 0);
}
#else
FN V over(V a) { return 1.0 / a; }
#endif

/* exp and log as plain arithmetic; within 1 ulp or so. */
FN V power_of_e(V v) {
  const V c = most(least(v, all(709.0)), all(-708.0));
  const double magic = 6755399441055744.0;
  const V shifted = c * 1.4426950408889634 + magic;
  const V n = shifted - magic;
  const V r = (c - n * 0.6931471803691238) - n * 1.9082149292705877e-10;
  const V z = r * r; /* odd and even powers apart: two short chains instead of a long one */
  V odd = all(1.0 / 6227020800.0), even = all(1.0 / 479001600.0);
  odd = odd * z + 1.0 / 39916800.0;
  even = even * z + 1.0 / 3628800.0;
  odd = odd * z + 1.0 / 362880.0;
  even = even * z + 1.0 / 40320.0;
  odd = odd * z + 1.0 / 5040.0;
  even = even * z + 1.0 / 720.0;
  odd = odd * z + 1.0 / 120.0;
  even = even * z + 1.0 / 24.0;
  odd = odd * z + 1.0 / 6.0;
  even = even * z + 0.5;
  odd = odd * z + 1.0;
  even = even * z + 1.0;
  const V s = odd * r + even;
  return from_bits((I)((U)bits(s) + ((U)bits(shifted) << 52)));
}

FN V log_of(V v) {
  const U b = (U)bits(v);
  const V e0 = from_bits((I)((b >> 52) | 0x4330000000000000ULL)) - 4503599627371519.0;
  const V m0 = from_bits((I)((b & 0x000FFFFFFFFFFFFFULL) | 0x3FF0000000000000ULL));
  const V big = pick(gt(m0, all(1.4142135623730951)), all(1.0), all(0.0));
  const V m = m0 * (1.0 - 0.5 * big);
  const V e = e0 + big;
  const V f = m - 1.0;
  const V t = f / (2.0 + f);
  const V z = t * t, zz = z * z;
  V even = all(2.0 / 23.0), odd = all(2.0 / 21.0);
  even = even * zz + 2.0 / 19.0;
  odd = odd * zz + 2.0 / 17.0;
  even = even * zz + 2.0 / 15.0;
  odd = odd * zz + 2.0 / 13.0;
  even = even * zz + 2.0 / 11.0;
  odd = odd * zz + 2.0 / 9.0;
  even = even * zz + 2.0 / 7.0;
  odd = odd * zz + 2.0 / 5.0;
  even = even * zz + 2.0 / 3.0;
  const V s = odd * z + even;
  const V result = e * 0.6931471803691238 + (e * 1.9082149292705877e-10 + (t * z * s + 2.0 * t));
  return pick(gt(v, all(0.0)), result, pick(ge(v, all(0.0)), all(-INFINITY), all(NAN)));
}
