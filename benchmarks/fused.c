/* The patch of bench_fused.py, fused by hand: every voice's sections in one loop, in blocks of 64 samples.
   Same maths, same order of voices. Compiled with -O3 -march=native -ffast-math when a C compiler is there. */
#include <math.h>

#define BLOCK 64
#define RAIL 11.0

static inline double clamp(double v, double lo, double hi) { return v < lo ? lo : v > hi ? hi : v; }

typedef struct { double source_v, drift_v, gain_1, gain_2, rise_s, fall_s, cv_v; double lag_1, lag_2; } voice;

void run(voice *voices, int count, long blocks, double rate_hz, double *out) {
    const double weight = (1.0 / 1e3) / (1.0 / 1e3 + 1.0 / 1e5);
    for (long b = 0; b < blocks; b++) {
        double group[2][BLOCK] = {{0}};
        for (int i = 0; i < count; i++) {
            voice *x = &voices[i];
            double *sum = group[i >= count / 2];
            double up = 1.0 - exp(-1.0 / (x->rise_s * rate_hz)), down = 1.0 - exp(-1.0 / (x->fall_s * rate_hz));
            double lag_1 = x->lag_1, lag_2 = x->lag_2;
            for (int n = 0; n < BLOCK; n++) {
                double mixed = clamp(x->gain_1 * x->source_v + x->gain_2 * x->drift_v, -RAIL, RAIL);
                double gap = clamp(mixed, -RAIL, RAIL) - lag_1;
                lag_1 += (gap > 0.0 ? up : down) * gap;
                double opening = clamp(clamp(x->cv_v, -RAIL, RAIL) / 5.0, 0.0, 1.0);
                double passed = clamp(opening * clamp(lag_1, -RAIL, RAIL), -RAIL, RAIL);
                double again = clamp(x->gain_1 * passed + x->gain_2 * lag_1, -RAIL, RAIL);
                gap = clamp(again, -RAIL, RAIL) - lag_2;
                lag_2 += (gap > 0.0 ? up : down) * gap;
                sum[n] += 0.05 * weight * clamp(lag_2, -RAIL, RAIL);
            }
            x->lag_1 = lag_1;
            x->lag_2 = lag_2;
        }
        for (int n = 0; n < BLOCK; n++) {
            double a = weight * clamp(clamp(group[0][n], -RAIL, RAIL), -RAIL, RAIL);
            double c = weight * clamp(clamp(group[1][n], -RAIL, RAIL), -RAIL, RAIL);
            out[b * BLOCK + n] = clamp(a + c, -RAIL, RAIL);
        }
    }
}
