// The order, marks and filters of `choose`.
#include "ringquell/choose.h"

#include "review/rank_options.h"
#include "ringquell/report.h"
#include "support/case_text.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

ChosenOption option(const std::string& bead, double energy_j, double damping, double gate_v,
                    bool passes = true) {
    ChosenOption o;
    o.bead = bead;
    o.preferred_ohm = 10;
    o.damping_ratio = damping;
    o.passes = passes;
    o.cost.switching_energy_j = energy_j;
    o.cost.current_transfer_s = o.cost.voltage_transfer_s = energy_j * 1e-6;
    o.induced = InducedGate{gate_v + 4, gate_v, 4, 5};
    return o;
}

std::vector<std::string> order(const std::vector<ChosenOption>& options) {
    std::vector<std::string> out;
    for (const ChosenOption& o : options) out.push_back(o.bead);
    return out;
}

}  // namespace

TEST_CASE("what passes comes first by energy, shoot-through last") {
    std::vector<ChosenOption> o{option("shoots", 1, 0.3, 5), option("no bead", 3, 0.12, 1),
                                option("b", 2, 0.2, 2), option("fails", 0.5, 0.05, 0, false)};
    int out = 0;
    rank_options(o, {}, out);
    CHECK(order(o) == std::vector<std::string>{"b", "no bead", "fails", "shoots"});
    CHECK(!o.back().recommended());
    CHECK(out == 0);
}

TEST_CASE("an option worse in everything is dominated, one better in something is not") {
    std::vector<ChosenOption> o{option("best", 2, 0.2, 1), option("worse", 3, 0.15, 2),
                                option("damped", 4, 0.5, 3)};
    int out = 0;
    rank_options(o, {}, out);
    CHECK(o[0].dominated_by.empty());
    CHECK(o[1].dominated_by == "best");
    CHECK(o[2].dominated_by.empty());
}

TEST_CASE("limits leave options out, but no bead stays and is marked") {
    std::vector<ChosenOption> o{option("no bead", 3, 0.12, 1), option("slow", 9, 0.4, 1),
                                option("good", 2, 0.2, 1)};
    ChooseOptions limits;
    limits.limit_time_s = 7e-6;
    limits.limit_damping = 0.15;
    int out = 0;
    rank_options(o, limits, out);
    CHECK(order(o) == std::vector<std::string>{"good", "no bead"});
    CHECK(!o[1].within_limits);
    CHECK(out == 1);
}

TEST_CASE("a case without beads has a row of no bead, with the keys of its JSON") {
    const std::string json = choose_json(choose(case_text::read(case_text::base)));
    for (const char* key : {"\"verb\": \"choose\"", "\"bead\": \"no bead\"", "\"minimum_ohm\"",
                            "\"preferred_ohm\"", "\"damping_ratio\"", "\"shoot_through\""})
        CHECK(case_text::contains(json, key));
}
