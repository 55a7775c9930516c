/* SPDX-License-Identifier: MIT */
/*
 * Simulated lives (life_plant.h) through the store: 200 units over twelve
 * visits, each visit a result of its own, written here as JSON. What comes out
 * of the file is judged as the numbers that went in are: the same answer for
 * every figure, after six visits and after twelve. A number on the command
 * line: so many units.
 */
#include "made_result.h"

#include "../study/life_plant.h"

/* Days of lives count from here: 2020-01-01 is day 18262 since 1970. */
enum { FIRST_DAY = 18262, MINUTES = 1440 };

static void add_date(struct bl_strbuf *to, double day)
{
    /* Civil date from days (Howard Hinnant's algorithm, from memory). */
    const long minutes = lround(day * MINUTES);
    const long days = minutes / MINUTES + FIRST_DAY + 719468;
    const long era = days / 146097;
    const long of_era = days - era * 146097;
    const long year =
        (of_era - of_era / 1460 + of_era / 36524 - of_era / 146096) / 365;
    const long of_year = of_era - (365 * year + year / 4 - year / 100);
    const long shifted = (5 * of_year + 2) / 153;
    const long month = shifted < 10 ? shifted + 3 : shifted - 9;
    bl_strbuf_format(to, "\"%04ld-%02ld-%02ldT%02ld:%02ld\"",
                     year + era * 400 + (month <= 2), month,
                     of_year - (153 * shifted + 2) / 5 + 1,
                     minutes % MINUTES / 60, minutes % 60);
}

/* The units in front, by their words, and the unit itself. */
static size_t add_units(struct bl_strbuf *to, const char *kinds, int number,
                        const char *set)
{
    size_t units = 0;
    bl_strbuf_text(to, "\"units\":[");
    while (*kinds != '\0') {
        const size_t length = strcspn(kinds, ",");
        bl_strbuf_format(
            to,
            "{\"unit\":\"%zu\",\"id\":null,\"control_line\":"
            "\"relayed\",\"kind\":%s,\"outputs\":[],\"command\":"
            "\"pedal\",\"command_kind\":\"treadle-pressure\","
            "\"command_at\":\"20 kPa\"},",
            units++, strncmp(kinds, "dolly", 5) == 0 ? "\"dolly\"" : "null");
        kinds += length + strspn(kinds + length, ", ");
    }
    bl_strbuf_format(
        to,
        "{\"unit\":\"%zu\",\"id\":\"L-%d\",\"control_line\":\"relayed\","
        "\"outputs\":[{\"label\":\"rear\",\"from\":\"out\"}]}],\"channels\":[{"
        "\"channel\":\"pedal\",\"instrument\":\"P\"},{\"channel\":\"out\","
        "\"instrument\":\"%s\"}]",
        units, number, set);
    return units;
}

/* One application with one figure, whose command rose as the plant says. */
static void add_value(struct bl_strbuf *to, size_t unit, const char *figure,
                      const struct bl_life_value *value, int number)
{
    bl_strbuf_format(to,
                     "{\"number\":%d,\"combination\":\"A\",\"excluded\":false,"
                     "\"command\":{\"own\":{\"apply_10\":{\"s\":0},"
                     "\"apply_75\":{\"s\":%.12g}}},\"units\":[{\"unit\":"
                     "\"%zu\"",
                     number, value->command_rise_s, unit);
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        const char *name = bl_figure_name_text(i);
        if (!bl_figure_of_unit(i)) {
            continue;
        }
        if (strcmp(name, figure) == 0) {
            bl_strbuf_format(to,
                             ",\"%s\":{\"s\":%.15g,\"u_parts\":{\"crossing\":"
                             "%.15g,\"sampling\":0,\"resolution\":0,\"rest\":0,"
                             "\"command\":0,\"gain\":0,\"zero\":0,\"delay\":"
                             "%.15g,\"clock\":0}}",
                             name, value->value, value->u_random,
                             value->u_systematic);
        } else {
            bl_strbuf_format(to, ",\"%s\":{\"s\":null}", name);
        }
    }
}

static char *visit_json(const struct life_unit *life, int number, int at)
{
    struct bl_strbuf to = {0};
    const struct bl_life_visit *visit = &life->visit[at];
    bl_strbuf_text(&to, "{\"schema\":\"brakelag-result/2\",\"trial\":{"
                        "\"name\":\"life\",\"response_at_kpa\":20,\"date\":");
    add_date(&to, visit->day);
    bl_strbuf_format(&to, ",\"supply_kpa\":%.15g,\"temperature_c\":%.15g,",
                     visit->supply_kpa, visit->temperature_c);
    const size_t unit = add_units(&to, visit->kinds_in_front, number,
                                  life->value[0][at].transducer);
    bl_strbuf_format(&to,
                     "},\"recordings\":[{\"run\":\"0\",\"sha256\":\"%064x\"}],"
                     "\"runs\":[",
                     (unsigned)(100 * (number + 1) + at));
    for (int group = 0; group < 4; group++) {
        const struct bl_life_series *first =
            &life->series[group * LIFE_FIGURES];
        const char *state = first->by_air ? "off" : "on";
        bl_strbuf_format(&to,
                         "%s{\"name\":\"%d\",\"condition\":\"%s\",\"power\":"
                         "\"%s\",\"data\":\"%s\",\"applications\":[",
                         group > 0 ? "," : "", group, first->key.condition,
                         state, state);
        for (int f = 0; f < LIFE_FIGURES; f++) {
            bl_strbuf_text(&to, f > 0 ? "," : "");
            add_value(&to, unit, bl_figure_name_text(LIFE_FIGURE[f].figure),
                      &life->value[group * LIFE_FIGURES + f][at], f + 1);
            bl_strbuf_format(&to, "}],\"kind\":\"%s\",\"shape\":\"step\"}",
                             first->key.kind == BL_KIND_FULL ? "full"
                                                             : "light");
        }
        bl_strbuf_text(&to, "]}");
    }
    bl_strbuf_text(&to, "]}");
    assert_false(to.failed);
    return to.text;
}

static const struct bl_life_row *row_of(const struct bl_lives *lives,
                                        const struct bl_life_key *key)
{
    for (size_t i = 0; i < lives->rows; i++) {
        const struct bl_life_key *other = &lives->row[i].key;
        if (other->figure == key->figure && other->kind == key->kind &&
            strcmp(other->condition, key->condition) == 0) {
            return &lives->row[i];
        }
    }
    fail_msg("a figure is not there");
    return NULL;
}

/* Values in the file have 15 digits, days a minute. */
static void hold_against(const struct bl_lives *kept,
                         const struct bl_lives *direct)
{
    assert_int_equal(kept->rows, direct->rows);
    for (size_t i = 0; i < direct->rows; i++) {
        const struct bl_life_row *a = &direct->row[i];
        const struct bl_life_row *b = row_of(kept, &a->key);
        assert_int_equal(b->verdict, a->verdict);
        assert_int_equal(b->reason, a->reason);
        assert_int_equal(b->points, a->points);
        assert_int_equal(b->lefts, a->lefts);
        assert_int_equal(b->needs, a->needs);
        assert_near(b->drift.size, a->drift.size, 1e-9);
        assert_near(b->drift.u, a->drift.u, 1e-9);
        assert_near(b->p_life, a->p_life, 1e-6 * fabs(a->p_life) + 1e-12);
    }
}

static int units = 200;

static void lives_come_back_as_they_went_in(void **state)
{
    (void)state;
    enum { LOOKS = 2 };
    static const int looks[LOOKS] = {6, LIFE_VISITS};
    static struct life_unit life[1];
    char path[300];
    int answers[BL_LIFE_VERDICTS] = {0};
    struct bl_history *history =
        made_open(made_path("lives", path, sizeof(path)));
    for (int u = 0; u < units; u++) {
        const struct life_plan plan = {.spread_high_s = 0.015,
                                       .drift_s = u % 4 == 1 ? 0.1 : 0,
                                       .step_s = u % 4 == 3 ? 0.15 : 0,
                                       .step_at = 4,
                                       .on_release = u / 4 % 2 == 1};
        char id[32];
        int at = 0;
        life_make(life, &plan, 25000 + (uint64_t)u);
        snprintf(id, sizeof(id), "L-%d", u);
        for (int i = 0; i < LIFE_VISITS; i++) {
            /* From the first of January on, to the minute. */
            life->visit[i].day =
                (double)lround((life->visit[i].day + 30) * MINUTES) / MINUTES;
        }
        for (int k = 0; k < LOOKS; k++) {
            for (; at < looks[k]; at++) {
                struct bl_history_added added;
                struct bl_error error;
                char *json = visit_json(life, u, at);
                if (made_add_text(history, json, &added, &error) != BL_OK) {
                    print_error("%s\n", error.message);
                    fail();
                }
                bl_history_added_finish(&added);
                bl_free(json);
            }
            struct bl_history_life *kept = NULL;
            struct bl_lives *direct = life_look(life, (size_t)looks[k]);
            assert_int_equal(bl_history_life_create(&kept, history, id, NULL),
                             BL_OK);
            hold_against(kept->lives, direct);
            for (size_t i = 0; i < direct->rows; i++) {
                answers[direct->row[i].verdict]++;
            }
            bl_life_destroy(direct);
            bl_history_life_destroy(kept);
        }
    }
    print_message("%d units, %d visits", units, units * LIFE_VISITS);
    for (int i = 0; i < BL_LIFE_VERDICTS; i++) {
        print_message(", %s %d", bl_life_verdict_name((enum bl_life_verdict)i),
                      answers[i]);
    }
    print_message("\n");
    /* Drifts and steps were planted, and most figures stay as they are. */
    assert_true(answers[BL_LIFE_DRIFT] > units / 4);
    assert_true(answers[BL_LIFE_STEP] > units / 4);
    assert_true(answers[BL_LIFE_NO_CHANGE_SHOWN] > units * LIFE_SERIES / 2);
    bl_history_close(history);
    (void)unlink(path);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lives_come_back_as_they_went_in)};
    (void)life_count_yard; /* of life_many alone */
    (void)life_print;
    units = argc > 1 ? atoi(argv[1]) : units;
    return cmocka_run_group_tests(tests, NULL, NULL);
}
