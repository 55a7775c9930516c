/* SPDX-License-Identifier: MIT */
/*
 * A whole report with one allocation failing: all studies, all forms. As the
 * way there is long, it is walked once; before each stage a child of the
 * process is forked for every allocation that is to fail in that stage, and
 * goes on from there to the end. The child must answer the same to the byte or
 * "out of memory", and leave no block behind: those of bl_alloc are counted; in
 * one child of sixteen the sanitizer looks through all memory at exit, which
 * takes longer than what the child does and also sees what other libraries
 * left. Threads live within a stage only, so that nothing is lost by forking.
 */
#ifndef BRAKELAG_TESTS_REPORT_MEMORY_WHOLE_H
#define BRAKELAG_TESTS_REPORT_MEMORY_WHOLE_H

#include "memory.h"
#include "report/result.h"
#include "studies.h"

#include <jansson.h>
#include <sys/wait.h>
#include <unistd.h>

enum {
    WALK_STAGES = 200,
    WALK_RUNS = 8,
    WALK_CHILDREN = 16,
    BULK = 6000,      /* allocations of a stage */
    LEAK_CHECKS = 16, /* one child of so many */
    CHILD_SAME = 40,  /* exit codes of a child: the answer is the same */
    CHILD_REFUSED     /* out of memory, and said so */
};

struct memory_walk {
    const char *path;
    uint64_t stride, next; /* the next allocation of all that is to fail */
    uint64_t coarser;      /* how much longer the stride is where nodes are
                              alike */
    uint64_t count[WALK_STAGES], before; /* allocations of and before a stage */
    const char *name[WALK_STAGES];
    size_t stage, stages;
    bool counting, child;
    struct {
        pid_t id;
        uint64_t at; /* its failure, within the stage */
    } running[WALK_CHILDREN];
    size_t children, most_children; /* as many as there are cores */
    uint64_t tried, same, refused, wrong, forked;
    int64_t live; /* blocks before the way begins */
};

struct memory_report {
    struct bl_trial *trial;
    struct bl_result *result;
    struct bl_run_data *data[WALK_RUNS];
    struct bl_run_clocks *clocks[WALK_RUNS];
    struct bl_run_lag *lag[WALK_RUNS];
    struct bl_causes_run seen[WALK_RUNS];
    struct bl_findings findings;
    struct bl_comparison *comparison;
    struct bl_answer_sentences *answer;
    struct bl_budget *budget;
    struct bl_dynamics *dynamics;
    struct bl_limits *limits;
    struct bl_output *output;
};

static inline void memory_child_ended(struct memory_walk *w, uint64_t at,
                                      int status)
{
    const int code = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
    w->tried++;
    w->same += code == CHILD_SAME;
    w->refused += code == CHILD_REFUSED;
    if (code != CHILD_SAME && code != CHILD_REFUSED) {
        w->wrong++;
        print_error("allocation %llu fails, number %llu of stage %zu (%s): the "
                    "child ended with %s %d, see above\n",
                    (unsigned long long)(w->before + at),
                    (unsigned long long)at, w->stage, w->name[w->stage],
                    code < 0 ? "signal" : "code",
                    code < 0 ? WTERMSIG(status) : code);
    }
}

static inline void memory_wait_for_one(struct memory_walk *w)
{
    int status;
    const pid_t id = wait(&status);
    for (size_t i = 0; i < w->children; i++) {
        if (w->running[i].id == id) {
            memory_child_ended(w, w->running[i].at, status);
            w->running[i] = w->running[--w->children];
            return;
        }
    }
    fail_msg("wait gave %ld, which is no child", (long)id);
}

/* Many nodes of one kind: traces, and the page of a large trial. */
static inline bool memory_alike(const struct memory_walk *w)
{
    return w->count[w->stage] > BULK &&
           (w->stride > 1 || strcmp(w->name[w->stage], "writing") != 0);
}

/* A stage begins. A child comes back from here with its failure set. */
static inline void memory_stage(struct memory_walk *w, const char *name)
{
    if (w->child) {
        return;
    }
    if (w->counting) {
        w->count[w->stages] = 0;
        if (w->stages > 0) {
            w->count[w->stages - 1] = bl_alloc_count();
        }
        assert_true(w->stages + 1 < WALK_STAGES);
        w->name[w->stages++] = name;
        bl_alloc_fail_at(0);
        return;
    }
    const uint64_t in_stage = w->count[w->stage];
    const uint64_t stride = w->stride * (memory_alike(w) ? w->coarser : 1);
    for (; w->next <= w->before + in_stage; w->next += stride) {
        if (w->children == w->most_children) {
            memory_wait_for_one(w);
        }
        fflush(stdout);
        fflush(stderr);
        const pid_t child = fork();
        assert_true(child >= 0);
        if (child == 0) {
            w->child = true;
            bl_alloc_fail_at(w->next - w->before);
            return;
        }
        w->forked++;
        w->running[w->children].id = child;
        w->running[w->children++].at = w->next - w->before;
    }
    while (w->children > 0) {
        memory_wait_for_one(w);
    }
    w->before += in_stage;
    w->stage++;
}

static inline enum bl_status memory_load(struct memory_report *r, size_t i,
                                         struct bl_error *error)
{
    enum bl_status status = bl_load_run(&r->data[i], r->trial, i, error);
    /* What a recording could not be read for is kept with it. */
    for (size_t k = 0; status == BL_OK && k < r->data[i]->recordings; k++) {
        assert_true(r->data[i]->recording[k].status == BL_OK ||
                    r->data[i]->recording[k].status == BL_NOMEM);
        if (r->data[i]->recording[k].status != BL_OK) {
            status = bl_fail_memory(error);
        }
    }
    if (status == BL_OK) {
        status = bl_clock_tie_run(&r->clocks[i], r->trial, r->data[i], error);
    }
    return status;
}

/* A run and what is studied of it alone. */
static inline enum bl_status memory_add_run(struct memory_walk *w,
                                            struct memory_report *r, size_t i,
                                            struct bl_error *error)
{
    struct bl_causes_run *seen = &r->seen[i];
    memory_stage(w, "load");
    enum bl_status status = memory_load(r, i, error);
    memory_stage(w, "measure");
    if (status == BL_OK) {
        status = bl_measure_run(&r->lag[i], r->trial, r->data[i], r->clocks[i],
                                error);
    }
    memory_stage(w, "figures and traces");
    if (status == BL_OK) {
        status =
            bl_result_add_run(r->result, r->trial,
                              &(const struct bl_result_run){
                                  i, r->data[i], r->clocks[i], r->lag[i], NULL},
                              error);
    }
    if (status == BL_OK) {
        status = bl_result_add_traces(r->result, r->trial, r->data[i],
                                      r->clocks[i], r->lag[i], error);
    }
    memory_stage(w, "studies of a run");
    if (status == BL_OK) {
        seen->data = r->data[i];
        seen->clocks = r->clocks[i];
        seen->lag = r->lag[i];
        status = studies_make(seen, r->trial, error);
    }
    memory_stage(w, "sections of a run");
    if (status == BL_OK) {
        status = bl_result_add_reach(r->result, r->trial, r->data[i],
                                     r->clocks[i], seen->reach, error);
    }
    if (status == BL_OK) {
        status = bl_result_add_characteristics(r->result, r->trial,
                                               seen->curves, error);
    }
    if (status == BL_OK) {
        status = bl_result_add_called(r->result, r->trial, seen->curves,
                                      seen->reach, error);
    }
    if (status == BL_OK) {
        status =
            bl_result_add_transducers(r->result, r->trial, seen->pairs, error);
    }
    if (status == BL_OK) {
        status =
            bl_result_add_predict(r->result, r->trial, seen->predict, error);
    }
    return status;
}

static inline enum bl_status memory_add_check(struct memory_report *r, size_t i,
                                              struct bl_error *error)
{
    struct bl_check *check = NULL;
    enum bl_status status = bl_check_run(&check, r->trial, r->data[i],
                                         r->clocks[i], r->lag[i], error);
    if (status == BL_OK) {
        status = bl_result_add_check(r->result, r->trial, check, error);
    }
    bl_check_destroy(check);
    return status;
}

/* What is studied of all runs together. */
static inline enum bl_status memory_add_trial(struct memory_walk *w,
                                              struct memory_report *r,
                                              struct bl_error *error)
{
    const struct bl_compare_options options = bl_compare_options_default();
    memory_stage(w, "causes");
    enum bl_status status =
        bl_causes(&r->findings, r->trial, r->seen, NULL, error);
    if (status == BL_OK) {
        status =
            bl_result_add_findings(r->result, r->trial, &r->findings, error);
    }
    memory_stage(w, "comparison");
    if (status == BL_OK) {
        status = bl_compare(&r->comparison, r->trial, r->lag, &options, error);
    }
    if (status == BL_OK) {
        status =
            bl_result_add_comparison(r->result, r->trial, r->comparison, error);
    }
    memory_stage(w, "answer");
    if (status == BL_OK) {
        const struct bl_answer_input input = {r->trial, r->seen, &r->findings,
                                              r->comparison, ~0u};
        status = bl_answer_create(&r->answer, &input, error);
    }
    if (status == BL_OK) {
        status = bl_result_add_answer(r->result, r->trial, r->answer, error);
    }
    memory_stage(w, "cost");
    if (status == BL_OK) {
        status = bl_dynamics_create(&r->dynamics, r->trial, r->lag, error);
    }
    if (status == BL_OK) {
        status =
            bl_result_add_dynamics(r->result, r->trial, r->dynamics, error);
    }
    memory_stage(w, "limits");
    if (status == BL_OK) {
        status = bl_limits_create(&r->limits, r->trial, r->lag, error);
    }
    if (status == BL_OK) {
        status = bl_result_add_limits(r->result, r->trial, r->limits, error);
    }
    memory_stage(w, "budget and check");
    if (status == BL_OK) {
        status =
            bl_budget_create(&r->budget, r->trial, r->lag, "response", error);
    }
    if (status == BL_OK) {
        status = bl_result_add_budget(r->result, r->trial, r->budget, error);
    }
    for (size_t i = 0; status == BL_OK && i < r->trial->runs; i++) {
        status = memory_add_check(r, i, error);
    }
    return status;
}

/* Every form, one behind the other. */
static inline enum bl_status memory_write(struct memory_walk *w,
                                          struct memory_report *r,
                                          struct bl_error *error)
{
    enum bl_status status = BL_OK;
    size_t size;
    for (int form = BL_RESULT_TEXT; form <= (int)BL_RESULT_PAGE; form++) {
        memory_stage(w, "writing");
        const struct bl_result_options as = {.form = (enum bl_result_form)form};
        if (status == BL_OK && r->output == NULL) {
            status = bl_output_open(&r->output, NULL, error);
        }
        if (status == BL_OK) {
            status = bl_result_write(r->result, r->output, &as, error);
        }
        if (status == BL_OK && bl_output_memory(r->output, &size) == NULL) {
            status = bl_fail_memory(error);
        }
    }
    return status;
}

static inline void memory_report_finish(struct memory_report *r)
{
    for (size_t i = 0; r->trial != NULL && i < r->trial->runs; i++) {
        studies_finish(&r->seen[i]);
        bl_run_lag_destroy(r->lag[i]);
        bl_run_clocks_destroy(r->clocks[i]);
        bl_run_data_destroy(r->data[i]);
    }
    bl_findings_finish(&r->findings);
    bl_comparison_destroy(r->comparison);
    bl_answer_destroy(r->answer);
    bl_budget_destroy(r->budget);
    bl_dynamics_destroy(r->dynamics);
    bl_limits_destroy(r->limits);
    bl_result_destroy(r->result);
    bl_trial_destroy(r->trial);
}

/* From the trial file to every form of the report; *out is the caller's to
   discard; NULL unless OK. */
static inline enum bl_status memory_report_make(struct bl_output **out,
                                                struct memory_walk *w,
                                                struct bl_error *error)
{
    struct memory_report r = {0};
    bl_error_clear(error);
    memory_stage(w, "trial file");
    enum bl_status status = bl_trial_read_file(&r.trial, w->path, NULL, error);
    memory_stage(w, "result");
    if (status == BL_OK) {
        assert_true(r.trial->runs <= WALK_RUNS);
        status = bl_result_create(&r.result, r.trial, error);
    }
    if (status == BL_OK) {
        bl_result_keep_whole(r.result);
    }
    for (size_t i = 0; status == BL_OK && i < r.trial->runs; i++) {
        status = memory_add_run(w, &r, i, error);
    }
    if (status == BL_OK) {
        status = memory_add_trial(w, &r, error);
    }
    if (status == BL_OK) {
        status = memory_write(w, &r, error);
    }
    memory_stage(w, "end");
    if (status != BL_OK) {
        bl_output_discard(r.output);
        r.output = NULL;
    }
    memory_report_finish(&r);
    *out = r.output;
    return status;
}

/* How a child ends. */
static inline int memory_child_code(enum bl_status status,
                                    struct bl_output *output,
                                    const struct bl_error *error,
                                    const char *expected, size_t size)
{
    char line[1024];
    if (status == BL_NOMEM && strstr(error->message, "out of memory") != NULL) {
        return CHILD_REFUSED;
    }
    if (status != BL_OK) {
        fprintf(stderr, "not out of memory but: %s\n",
                bl_error_line(error, line, sizeof(line)));
        return 1;
    }
    size_t again = 0;
    size_t same = 0;
    const char *text = bl_output_memory(output, &again);
    while (text != NULL && same < size && same < again &&
           text[same] == expected[same]) {
        same++;
    }
    if (again == size && same == size) {
        return CHILD_SAME;
    }
    fprintf(stderr, "the answer is another: '%.120s' became '%.120s'\n",
            expected + (same > 40 ? same - 40 : 0),
            text == NULL ? "" : text + (same > 40 ? same - 40 : 0));
    return 2;
}

static inline void *memory_json(size_t size)
{
    return bl_alloc(1, size);
}

/* Let every `stride`th allocation of a report fail; where node after node is
   of one kind every stride * coarser. */
static inline void memory_report_in_turn(const char *path, uint64_t stride,
                                         uint64_t coarser)
{
    struct bl_output *whole = NULL;
    struct bl_output *output = NULL;
    struct bl_error error;
    char line[1024];
    size_t size = 0;
    uint64_t all = 0;
    /* To come back to one that failed: from there on, every `stride`th. */
    const char *from = getenv("BL_FROM");
    const long cores = sysconf(_SC_NPROCESSORS_ONLN);
    struct memory_walk w = {
        .path = path,
        .most_children = cores < 1               ? 1
                         : cores > WALK_CHILDREN ? WALK_CHILDREN
                                                 : (size_t)cores,
        .stride = stride,
        .coarser = from == NULL ? coarser : 1,
        .counting = true,
        .next = from == NULL ? 1 : strtoull(from, NULL, 10)};
    json_set_alloc_funcs(memory_json, bl_free); /* those fail too */
    if (memory_report_make(&whole, &w, &error) != BL_OK) {
        fail_msg("%s", bl_error_line(&error, line, sizeof(line)));
    }
    const char *expected = bl_output_memory(whole, &size);
    for (size_t i = 0; i + 1 < w.stages; i++) {
        all += w.count[i];
    }
    assert_true(all > 1000);
    w.counting = false;
    w.live = bl_alloc_live();
    const enum bl_status status = memory_report_make(&output, &w, &error);
    if (w.child) {
        int code = memory_child_code(status, output, &error, expected, size);
        bl_output_discard(output);
        if (bl_alloc_live() != w.live) {
            fprintf(stderr, "%lld blocks are left behind\n",
                    (long long)(bl_alloc_live() - w.live));
            code = 3;
        }
        fflush(stderr);
        if (w.forked % LEAK_CHECKS != 0) {
            _exit(code);
        }
        bl_output_discard(whole);
        exit(code);
    }
    assert_int_equal(status, BL_OK);
    bl_output_discard(output);
    assert_int_equal(bl_alloc_live(), w.live);
    print_message("%llu allocations in %zu stages, every %lluth failed, where "
                  "alike every %lluth: %llu attempts, %llu refused, %llu the "
                  "same\n",
                  (unsigned long long)all, w.stages, (unsigned long long)stride,
                  (unsigned long long)(stride * w.coarser),
                  (unsigned long long)w.tried, (unsigned long long)w.refused,
                  (unsigned long long)w.same);
    bl_output_discard(whole);
    json_set_alloc_funcs(malloc, free);
    assert_true(w.refused > 0);
    assert_true(from != NULL || w.tried >= all / (stride * coarser));
    assert_int_equal(w.wrong, 0);
}

static inline void memory_demo_in_turn(uint64_t stride, uint64_t coarser)
{
    char path[1024];
    snprintf(path, sizeof(path), "%s/captures-demo/trial.ini",
             getenv("BL_SOURCE_ROOT"));
    memory_report_in_turn(path, stride, coarser);
}

/* Three units, both conditions and a reference, short: every study of a report
   has something to say. */
static const char memory_studied[] =
    "[scenario]\nname = studied\nseed = 5\n"
    "tables = iso11992-2, j1939-brakes\n"
    "levels = 65 kPa\nspeeds = 60 km/h\nquiet_first = 1 s\n"
    "[sensors]\nrate = 50 Hz\npedal_switch = yes\nreservoir = yes\n"
    "[clocks]\nlog_offset = 1.25 s\n"
    "[unit 0]\naddress = 32\nbus = vehicle\nmass = 9 t\n"
    "force = 0.09 kN/kPa\n"
    "[unit 1]\naddress = 200\nbus = link1\nline = 8 m\nmass = 22 t\n"
    "force = 0.17 kN/kPa\ncontrol_line = relayed\n"
    "[unit 2]\naddress = 192\nbus = link2\nline = 6 m\nmass = 22 t\n"
    "force = 0.17 kN/kPa\n"
    "[demand]\nmessage = EBS11\nperiod = 20 ms\n"
    "[message towed status]\nmessage = EBS22\nunits = towed\n"
    "set.service_brake_active = braking\nset.abs_active = 0\n"
    "set.electric_supply = voltage_sufficient\n"
    "[application full]\npressure = 600 kPa\nhold = 0.6 s\npause = 0.8 s\n"
    "[fault hose]\ncode = inlet\nunit = 2\namount = 0.15\n"
    "runs = P, U\n"
    "[run R]\ncondition = reference\none_tee = yes\npower = off\n"
    "data = off\napplications = full\n"
    "[run P]\ncondition = powered\napplications = 3 x full\n"
    "[run U]\ncondition = unpowered\npower = off\ndata = off\n"
    "applications = 3 x full\n";

/* What the scenario cannot say: limits, expectations, curves, a second
   transducer (any channel will do). */
static const char memory_added[] =
    "\n[limit rear]\nfigure = response\nunit = every\nmax = 0.2 s\n"
    "[limit stagger]\nfigure = stagger\nmax = 0.1 s\n"
    "[expect]\nreach = yes\ngap_max = 100 ms\ncoupling_delay_max = 20 ms\n"
    "[characteristic early]\nthreshold = 25 kPa\nwhen = EBS11\n"
    "[characteristic late]\nthreshold = 70 kPa\nwhen = none\n";

static inline void memory_studied_trial(char *path, size_t size)
{
    static const char mark[] = "control = control_1\n";
    char text[20000];
    memory_simulate(path, size, memory_studied);
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    const size_t length = fread(text, 1, sizeof(text) - 1, file);
    assert_true(length < sizeof(text) - 1);
    text[length] = '\0';
    fclose(file);
    const char *place = strstr(text, mark);
    assert_non_null(place);
    place += strlen(mark);
    file = fopen(path, "wb");
    assert_non_null(file);
    fprintf(file, "%.*scontrol_b = control_2\n%s%s", (int)(place - text), text,
            place, memory_added);
    assert_int_equal(fclose(file), 0);
}

#endif
