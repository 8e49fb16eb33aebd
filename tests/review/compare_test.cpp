// `compare`: what differs, and which input did it.
#include "ringquell/compare.h"

#include <doctest/doctest.h>

#include <cmath>
#include <nlohmann/json.hpp>
#include <numeric>

#include "modes/ranking.h"
#include "ringquell/numbers.h"
#include "ringquell/operating_path.h"
#include "ringquell/read_case.h"
#include "ringquell/report.h"
#include "support/case_text.h"
#include "support/files.h"
#include "support/relative.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

double sum_of_parts(const Comparison& c) {
    return std::accumulate(c.inputs.begin(), c.inputs.end(), 0.0,
                           [](double sum, const ComparedInput& i) { return sum + i.part.value_or(0); });
}

const ComparedInput& input_of(const Comparison& c, const std::string& key) {
    const auto found =
        std::find_if(c.inputs.begin(), c.inputs.end(), [&](const ComparedInput& i) { return i.key == key; });
    REQUIRE(found != c.inputs.end());
    return *found;
}

Case demonstration(const std::string& name, std::vector<std::string> settings = {}) {
    settings.insert(settings.begin(), "operation.path.steps=4");
    return test_files::demonstration(name, settings);
}

/// The least damping of the differential modes over the judged points.
double least(const Case& input) {
    ModeSolver solver(input);
    double out = 1;
    for (const OperatingPoint& p : operating_path(input).points) {
        if (!p.judged) continue;
        const Modes modes = solver.solve(p);
        if (const Mode* m = least_damped(modes.modes, ModeKind::differential, input.require))
            out = std::min(out, m->damping_ratio());
    }
    return out;
}

}  // namespace

TEST_CASE("a case compared with itself: nothing differs") {
    const Case input = demonstration("ropeway-first");
    const Comparison c = compare(input, input);
    CHECK(c.inputs.empty());
    CHECK(compare_text(c) == "Nothing differs.\n");
    const auto json = nlohmann::json::parse(compare_json(c));
    CHECK(json["inputs"].empty());
    CHECK(json["results"].empty());
    CHECK(json["worst"]["difference"] == 0);
}

TEST_CASE("the parts sum to the difference, and swapped cases change their signs alone") {
    for (const auto& [a, b] : {std::pair{demonstration("ropeway-first"), demonstration("ropeway-cured")},
                               std::pair{demonstration("ropeway-first"),
                                         demonstration("ropeway-first", {"source_path[2].inductance=6nH",
                                                                         "gate_path.resistor=8ohm",
                                                                         "operation.load_current=200A"})}}) {
        const Comparison forth = compare(a, b), back = compare(b, a);
        REQUIRE(forth.parted);
        REQUIRE(back.parted);
        const double difference = *forth.worst_b - *forth.worst_a;
        CHECK(std::abs(difference) > 0.01);
        CHECK(std::abs(sum_of_parts(forth) - difference) <= 0.01 * std::abs(difference));
        CHECK_RELATIVE(*forth.worst_a, least(a), 1e-12);
        CHECK_RELATIVE(*forth.worst_b, least(b), 1e-12);
        REQUIRE(forth.inputs.size() == back.inputs.size());
        for (const ComparedInput& i : forth.inputs) {
            const ComparedInput& other = input_of(back, i.key);
            CHECK(i.a == other.b);
            CHECK(i.b == other.a);
            CHECK(std::abs(*i.part + *other.part) <= 1e-6);
        }
    }
}

TEST_CASE("of one number that differs the part is the whole") {
    const Case a = demonstration("ropeway-first"),
               b = demonstration("ropeway-first", {"gate_path.inductance=12nH"});
    const Comparison c = compare(a, b);
    REQUIRE(c.inputs.size() == 1);
    CHECK(c.inputs[0].key == "gate_path.inductance");
    CHECK(c.inputs[0].b == "12 nH");
    const double difference = least(b) - least(a);
    CHECK(std::abs(*c.inputs[0].part - difference) <= 0.01 * std::abs(difference));
}

TEST_CASE("a part is the integral of what its number alone does to the least damping on the way") {
    const Case a = demonstration("ropeway-first", {"operation.path.steps=2"});
    const Case b = demonstration("ropeway-first", {"operation.path.steps=2", "gate_path.inductance=11nH",
                                                   "kelvin_path.inductance=9nH"});
    const Comparison c = compare(a, b);
    REQUIRE(c.parted);
    REQUIRE(c.inputs.size() == 2);
    constexpr int steps = 60;
    for (const char* key : {"gate_path.inductance", "kelvin_path.inductance"}) {
        double sum = 0;
        for (int i = 0; i < steps; ++i) {
            const double t = (i + 0.5) / steps, h = 1e-4;
            const auto at = [&](double own) {
                Case between = a;
                for (const char* each : {"gate_path.inductance", "kelvin_path.inductance"}) {
                    const double share = std::string(each) == key ? own : t;
                    const Number number = find_number(between, each);
                    const double to = *find_number(b, each).values[0];
                    for (double* x : number.values) *x += share * (to - *x);
                }
                return least(between);
            };
            sum += (at(t + h) - at(t - h)) / (2 * h) / steps;
        }
        CHECK(std::abs(*input_of(c, key).part - sum) <= 0.005 * std::abs(least(b) - least(a)));
    }
}

TEST_CASE("what one of the cases lacks enters where it does nothing") {
    const Case a = demonstration("ropeway-first");
    const Case b =
        demonstration("ropeway-first", {"gate_shunt={capacitance: 470 pF, resistance: 8.2 ohm}",
                                        "couplings=[{between: [gate_path, source_path], coefficient: 0.1}]"});
    const Comparison c = compare(a, b);
    REQUIRE(c.parted);
    CHECK(input_of(c, "gate_shunt.capacitance").a == "absent");
    CHECK(input_of(c, "gate_shunt.capacitance").b == "470 pF");
    CHECK(input_of(c, "couplings[gate_path, source_path].coefficient").a == "absent");
    const double difference = least(b) - least(a);
    CHECK(std::abs(sum_of_parts(c) - difference) <= 0.01 * std::abs(difference));
}

TEST_CASE("a position's own temperature comes from that of the operation where the other case gives none") {
    const Case a = demonstration("ski-lift-curves", {"operation.junction_temperature=60 degC"});
    const Case b = demonstration(
        "ski-lift-curves", {"operation.junction_temperature=60 degC", "junction_temperature[2]=140 degC"});
    const Comparison c = compare(a, b), same = compare(b, a);
    REQUIRE(c.parted);
    REQUIRE(c.inputs.size() == 1);
    CHECK(c.inputs[0].key == "junction_temperature");
    CHECK(c.inputs[0].positions == std::vector<int>{2});
    CHECK(c.inputs[0].a == "absent");
    CHECK(c.inputs[0].b == "140 degC");
    const double difference = least(b) - least(a);
    CHECK(difference != 0);
    CHECK(std::abs(sum_of_parts(c) - difference) <= 0.01 * std::abs(difference));
    CHECK(std::abs(sum_of_parts(same) + difference) <= 0.01 * std::abs(difference));
}

TEST_CASE("positions, kinds and forms have no way between: nothing is parted, and the keys are named") {
    const Case a = demonstration("ropeway-first");
    const Comparison fewer = compare(a, demonstration("ropeway-first", {"positions=3"}));
    CHECK(!fewer.parted);
    CHECK(fewer.why_not_parted == "not divisible: positions");
    CHECK(input_of(fewer, "positions").a == "4");
    CHECK(input_of(fewer, "positions").b == "3");
    const Comparison returns = compare(a, demonstration("ropeway-first", {"driver.per_position=buffer"}));
    CHECK(!returns.parted);
    CHECK(returns.why_not_parted == "not divisible: driver.per_position");
    CHECK(case_text::contains(compare_text(returns), "driver.per_position"));
}
