// The rules of a network's elements, applied again, give what building it anew stamps.
#include "network/values.h"

#include <doctest/doctest.h>

#include <utility>
#include <vector>

#include "ringquell/network.h"
#include "ringquell/operating_path.h"
#include "support/case_text.h"
#include "support/random_case.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

using Gains = NetworkValues::Gains;

void check_values(const NetworkValues& rules, const Network& anew, const OperatingPoint& point) {
    std::vector<double> values(anew.elements.size());
    REQUIRE(rules.evaluate(point, values.data()));
    for (size_t i = 0; i < values.size(); ++i) {
        CAPTURE(anew.elements[i].label());
        CHECK(values[i] == anew.elements[i].value);
    }
}

}  // namespace

TEST_CASE("every element of random cases follows the numbers of its case and of the point, bit for bit") {
    random_case::Generator generator(0x5eed);
    for (int round = 0; round < 40; ++round) {
        CAPTURE(round);
        random_case::Traits traits;
        traits.positions = 1 + round % 4;
        traits.alike = round % 3 != 0;
        const Case first = generator.make(traits);
        Case input = first;
        const OperatingPath path = operating_path(input);
        for (const Block block : {Block::whole, Block::common, Block::differential}) {
            const OperatingPoint& point = path.points.front();
            if (block != Block::whole && !positions_alike(input, point)) continue;
            NetworkOptions options;
            options.block = block;
            const Network network = build_network(input, point, options);
            const NetworkValues rules(network, input, point, Gains::must_stand);
            check_values(rules, network, point);
            input = random_case::scaled(first, 1.1, 1.3, 0.7);
            const OperatingPoint moved = operating_path(input).points.front();
            check_values(rules, build_network(input, moved, options), moved);
            input = first;
        }
    }
}

TEST_CASE(
    "where a part becomes a wire or open, or stops being one, the rules say that the structure is another") {
    Case input = case_text::read(case_text::base);
    const OperatingPoint point = operating_path(input).points.front();
    const Network network = build_network(input, point);
    const NetworkValues rules(network, input, point, Gains::must_stand);
    std::vector<double> values(network.elements.size());
    CHECK(rules.evaluate(point, values.data()));
    const auto refused = [&](double& number, double other) {
        const double before = std::exchange(number, other);
        const bool out = !rules.evaluate(point, values.data());
        number = before;
        return out;
    };
    CHECK(refused(input.positions[0].drain_path.resistance_ohm, 1e-3));
    CHECK(refused(input.power_loop.inductance_h, 0));
    CHECK(rules.evaluate(point, values.data()));
    OperatingPoint other = point;
    other.edge = point.edge == Edge::turn_on ? Edge::turn_off : Edge::turn_on;
    CHECK_FALSE(rules.evaluate(other, values.data()));
}
