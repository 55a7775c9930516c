/* SPDX-License-Identifier: MIT */
/* Long variant: coverage of the stated uncertainty over the whole range of
   slopes, noise, rates and resolutions that yards meet. */
#include "testing.h"

#include "sweep.h"

static void test_sweep(void **state)
{
    (void)state;
    static const double slopes[] = {50, 150, 500, 1500, 5000};
    static const double noises[] = {0.2, 1, 3};
    static const double rates[] = {100, 1000, 5000};
    static const double steps[] = {0, 0.5, 2};
    const unsigned runs = 600;
    unsigned bad = 0;
    for (unsigned i = 0; i < 5 * 3 * 3 * 3 * 2 * 3; i++) {
        struct sweep sweep = {
            .slope = slopes[i % 5],
            .sigma = noises[i / 5 % 3],
            .rate = rates[i / 15 % 3],
            .step = steps[i / 45 % 3],
            .passage = (enum passage)(i / 270 % 3),
        };
        sweep.exponential = i / 135 % 2 == 1;
        const struct sweep_result result = sweep_run(&sweep, runs, i + 1);
        const double share =
            (double)result.covered / (result.runs - result.missed);
        /* From above it is held only where neither steps nor a corner between
           two samples, which may or may not be there, widen u. */
        /* 93 to 99 %, and two standard errors of 600 runs beyond: a little too
           wide, so that figures far off are rarer than normal errors are. */
        const bool plain = sweep.step == 0 && sweep.rate * 10 > sweep.slope;
        const bool wrong =
            share < 0.91 || (plain && share > 0.998) || result.missed > 0;
        if (wrong) {
            bad++;
        }
        print_message("%s", wrong ? "* " : "  ");
        sweep_print(&sweep, &result);
    }
    print_message("%u outside\n", bad);
    assert_int_equal(bad, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_sweep),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
