// Ordinary boards whose positions differ: none is left without a verdict, and what is recommended passes.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <string>

#include "ringquell/check.h"
#include "support/case_text.h"
#include "support/random_case.h"
#include "test_paths.h"

using namespace ringquell;

namespace {

#ifdef RINGQUELL_SANITIZED
constexpr int boards = 60;
#else
constexpr int boards = 500;
#endif

CheckOptions without_families(bool size) {
    CheckOptions options;
    options.follow_modes = false;
    options.size_gate_resistor = size;
    return options;
}

/// Every other one is the demonstration board with other lengths, the rest have any elements.
Case board(random_case::Generator& generator, int number) {
    if (number % 2 == 0)
        return generator.make({generator.chance(0.2) ? 4 : generator.whole(2, 3), false, true});
    const int positions = generator.whole(2, 3);
    std::vector<std::string> settings{fmt::format("positions={}", positions), "operation.path.steps=2"};
    for (int i = 1; i <= positions; ++i) {
        settings.push_back(fmt::format("gate_path[{}].inductance={:.2f}nH", i, generator.between(7.5, 13)));
        if (generator.chance(0.3))
            settings.push_back(
                fmt::format("source_path[{}].inductance={:.1f}nH", i, generator.between(3, 6)));
        if (generator.chance(0.3))
            settings.push_back(fmt::format("drain_path[{}].inductance={:.1f}nH", i, generator.between(4, 7)));
    }
    return read_case(std::string(RINGQUELL_CASES) + "/ropeway-first.yaml", settings);
}

bool edge_passes(const Case& input, Edge edge) {
    for (const PointResult& r : check(input, without_families(false)).points)
        if (r.point.edge == edge && r.point.judged &&
            std::any_of(r.modes.modes.begin(), r.modes.modes.end(),
                        [&](const Mode& m) { return misses(m, input.require); }))
            return false;
    return true;
}

}  // namespace

TEST_CASE("of random uneven boards none is without a verdict but for a stated condition above 1e12") {
    random_case::Generator generator(12);
    int ill_conditioned = 0, set_again = 0, complete = 0;
    for (int number = 0; number < boards; ++number) {
        CAPTURE(number);
        const Case input = board(generator, number);
        CheckResult result;
        try {
            result = check(input, without_families(true));
        } catch (const NumericalError& error) {
            const std::string text = error.what();
            CAPTURE(text);
            REQUIRE(text.starts_with("the elimination of the algebraic part is ill conditioned ("));
            CHECK(std::stod(text.substr(text.find('(') + 1)) >= 1e12);
            ++ill_conditioned;
            continue;
        }
        for (const auto& [edge, sizing] : result.gate_resistance) {
            CHECK(sizing.acceptable.complete == sizing.acceptable.why_not_complete.empty());
            complete += sizing.acceptable.complete;
            if (number % 4 > 1 || !sizing.preferred_ohm) continue;
            Case fitted = input;
            fit_gate_resistor(fitted, edge, *sizing.preferred_ohm);
            CHECK(edge_passes(fitted, edge) == sizing.passes_with_preferred);
            ++set_again;
        }
    }
    MESSAGE(fmt::format("{} boards; {} ill conditioned, {} edges complete, {} preferred values set again",
                        boards, ill_conditioned, complete, set_again));
    CHECK(ill_conditioned <= boards / 50);
    CHECK(complete >= boards);
    CHECK(set_again >= boards / 5);
}
