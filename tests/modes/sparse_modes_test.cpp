// Shift-invert with the argument count against all eigenvalues of the whole network.
#include "modes/sparse_modes.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <string>
#include <vector>

#include "ringquell/modes.h"
#include "ringquell/network.h"
#include "ringquell/operating_path.h"
#include "ringquell/read_case.h"
#include "support/ladder_case.h"
#include "support/relative.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

Case ladder_case(const ladder::Options& options) {
    return read_case_text(ladder::text(options), "ladder.yaml");
}

/// In the band below the larger target, oscillating, or growing anywhere: what a verdict needs.
std::vector<Mode> needed(const Modes& modes, const Requirement& require) {
    const double target = std::max(require.differential_damping, require.common_damping.value_or(0));
    std::vector<Mode> out;
    for (const Mode& m : modes.modes)
        if (m.eigenvalue.real() > 0 || (m.oscillates() && in_band(m, require) && m.damping_ratio() < target))
            out.push_back(m);
    return out;
}

void check_sparse_equals(const Case& input, const OperatingPoint& point, Method other) {
    CAPTURE(point.name);
    const Modes sparse = ModeSolver(input, Method::sparse).solve(point);
    CAPTURE(sparse.proof);
    CHECK(!sparse.complete_list);
    CHECK(!sparse.proof.empty());
    std::vector<Mode> found = needed(sparse, input.require);
    const std::vector<Mode> wanted = needed(ModeSolver(input, other).solve(point), input.require);
    const auto total = [](const std::vector<Mode>& modes) {
        int sum = 0;
        for (const Mode& m : modes) sum += m.multiplicity;
        return sum;
    };
    CHECK(total(found) == total(wanted));
    for (const Mode& w : wanted) {
        int left = w.multiplicity;
        for (Mode& f : found)
            if (f.multiplicity > 0 && left > 0 && relative_difference(f.eigenvalue, w.eigenvalue) < 1e-8) {
                CHECK(f.kind == w.kind);
                CHECK(std::abs(f.common_share - w.common_share) < 1e-6);
                const int taken = std::min(left, f.multiplicity);
                left -= taken;
                f.multiplicity -= taken;
            }
        INFO("wanted ", w.eigenvalue, " x ", w.multiplicity);
        CHECK(left == 0);
    }
}

}  // namespace

TEST_CASE("the modes that miss the target, found by shift-invert, are those of the whole network") {
    for (int positions : {6, 16, 40}) {
        CAPTURE(positions);
        ladder::Options options;
        options.positions = positions;
        options.gate_resistor_ohm = 14;
        options.weak_from = 2;
        options.weak_count = 2;
        const Case input = ladder_case(options);
        for (const OperatingPoint& point : operating_path(input).points)
            check_sparse_equals(input, point, Method::whole);
    }
}

TEST_CASE("many modes that miss the target, close to each other, are all found") {
    ladder::Options options;
    options.positions = 24;
    options.gate_resistor_ohm = 5;
    options.spread = 0.004;
    const Case input = ladder_case(options);
    for (const OperatingPoint& point : operating_path(input).points)
        check_sparse_equals(input, point, Method::whole);
}

TEST_CASE("where every mode passes, the count says that none misses") {
    ladder::Options options;
    options.positions = 12;
    options.gate_resistor_ohm = 14;
    options.damping = 0.005;
    options.transconductance_s = 0;
    const Case input = ladder_case(options);
    const OperatingPoint point = operating_path(input).points[0];
    check_sparse_equals(input, point, Method::whole);
    SparseModeSolver solver(input.n());
    const Network network = build_network(input, point);
    solver.set(network);
    CHECK(solver.find({6.3e6, 1.9e9, 0.005}).counted == 0);
}

TEST_CASE("alike positions: a multiple eigenvalue is counted as often as it occurs") {
    for (int positions : {4, 9}) {
        ladder::Options options;
        options.positions = positions;
        options.gate_resistor_ohm = 2;
        options.spread = 0;
        std::string text = ladder::text(options);
        text.erase(text.find("buses:"), text.find("overrides:") - text.find("buses:"));
        const Case input = read_case_text(text, "alike.yaml");
        for (const OperatingPoint& point : operating_path(input).points)
            check_sparse_equals(input, point, Method::blocks);
    }
}

TEST_CASE("a mode on the very edge of what is asked is found, and one beyond is not counted") {
    ladder::Options options;
    options.positions = 8;
    options.gate_resistor_ohm = 14;
    const Case input = ladder_case(options);
    const OperatingPoint point = operating_path(input).points[0];
    std::vector<double> dampings;
    for (const Mode& m : ModeSolver(input, Method::whole).solve(point).modes)
        if (m.oscillates() && in_band(m, input.require)) dampings.push_back(m.damping_ratio());
    REQUIRE(dampings.size() >= 3);
    const Network network = build_network(input, point);
    SparseModeSolver solver(input.n());
    const double low = 6.28 * input.require.band_low_hz, high = 6.28318 * input.require.band_high_hz;
    for (size_t k = 0; k < 3; ++k) {
        solver.set(network);
        CHECK(solver.find({low, high, dampings[k] - 1e-5}).modes.size() == k);
        solver.set(network);
        CHECK(solver.find({low, high, dampings[k] + 1e-5}).modes.size() == k + 1);
    }
}

TEST_CASE("a real growing eigenvalue is inside the count, and is no oscillation") {
    // Drain current that couples back into the gate loop in phase: a blocking oscillator, whose start grows
    // without ringing.
    bool real_growth = false;
    for (const char* coefficient : {"0.95", "-0.95"}) {
        ladder::Options options;
        options.positions = 3;
        options.gate_resistor_ohm = 0.1;
        options.transconductance_s = 200;
        const std::string coupling =
            std::string("couplings: [{between: [gate_path, drain_path], coefficient: ") + coefficient +
            "}]\n";
        const Case input = read_case_text(ladder::text(options) + coupling, "coupled.yaml");
        for (const OperatingPoint& point : operating_path(input).points) {
            for (const Mode& m : ModeSolver(input, Method::whole).solve(point).modes)
                real_growth = real_growth || (!m.oscillates() && m.eigenvalue.real() > 0);
            check_sparse_equals(input, point, Method::whole);
        }
    }
    CHECK(real_growth);
}

TEST_CASE("one solver serves point after point of the same pattern") {
    ladder::Options options;
    options.positions = 10;
    options.gate_resistor_ohm = 14;
    options.weak_from = 3;
    options.weak_count = 1;
    const Case input = ladder_case(options);
    ModeSolver solver(input, Method::sparse);
    const auto points = operating_path(input).points;
    for (int round = 0; round < 2; ++round)
        for (const OperatingPoint& point : points) {
            const auto again = needed(solver.solve(point), input.require);
            const auto fresh = needed(ModeSolver(input, Method::sparse).solve(point), input.require);
            REQUIRE(again.size() == fresh.size());
            for (size_t k = 0; k < again.size(); ++k)
                CHECK_RELATIVE(again[k].eigenvalue, fresh[k].eigenvalue, 1e-9);
        }
}
