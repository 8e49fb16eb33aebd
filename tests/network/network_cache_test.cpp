// Values written into a network that was built before are those of a network built anew.
#include <doctest/doctest.h>

#include <stdexcept>

#include "network/cache.h"
#include "network/structure.h"
#include "ringquell/network.h"
#include "ringquell/operating_path.h"
#include "support/case_text.h"
#include "test_paths.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

void check_same(const Network& a, const Network& b) {
    REQUIRE(a.elements.size() == b.elements.size());
    REQUIRE(a.unknowns.size() == b.unknowns.size());
    for (size_t i = 0; i < a.unknowns.size(); ++i) CHECK(a.unknowns[i].name == b.unknowns[i].name);
    for (size_t i = 0; i < a.elements.size(); ++i) {
        CAPTURE(a.elements[i].label());
        CHECK(a.elements[i].label() == b.elements[i].label());
        CHECK(a.elements[i].value == b.elements[i].value);
        CHECK(a.elements[i].left == b.elements[i].left);
        CHECK(a.elements[i].right == b.elements[i].right);
    }
}

void check_walk(const Case& input, const std::vector<OperatingPoint>& points) {
    NetworkCache cache(input);
    for (int round = 0; round < 2; ++round)
        for (const OperatingPoint& point : points)
            for (Block block : {Block::whole, Block::common, Block::differential})
                for (bool keep : {false, true}) {
                    NetworkCache::Entry& entry = cache.at(point, {block, keep});
                    check_same(entry.network, build_network(input, point, {block, keep}));
                    CHECK(entry.values == Reducer::element_values(entry.network));
                    entry.set(0, 17);  // undone by the next at()
                }
}

}  // namespace

TEST_CASE(
    "a cached network equals one built anew, whatever of the devices is changed, zeros and the order of "
    "capacitances included") {
    const Case input = case_text::read(case_text::base);
    const OperatingPoint first = operating_path(input).points[0];
    std::vector<OperatingPoint> points{first};
    const auto changed = [&](auto change) {
        points.push_back(first);
        change(points.back());
    };
    changed([](OperatingPoint& p) { p.devices[0].mosfet.transconductance_s = 7; });
    changed([](OperatingPoint& p) { p.devices[0].mosfet.transconductance_s = 0; });
    changed([](OperatingPoint& p) { p.devices[0].mosfet.output_conductance_s = 0; });
    changed([](OperatingPoint& p) { p.devices[0].mosfet.cgd_f = 5e-9; });
    changed([](OperatingPoint& p) { p.devices[0].mosfet.cgd_f = 0; });
    changed([](OperatingPoint& p) { p.devices[0].mosfet.cds_f = 3e-9; });
    changed([](OperatingPoint& p) { p.devices[0].mosfet.output_resistance_ohm = 2; });
    changed([](OperatingPoint& p) { p.devices[0].gate_resistance_ohm = 3; });
    changed([](OperatingPoint& p) { p.devices[0].gate_resistance_ohm = 0; });
    changed([](OperatingPoint& p) { p.complementary_capacitance_f = 7e-9; });
    changed([](OperatingPoint& p) { p.complementary_capacitance_f = 0; });
    changed([](OperatingPoint& p) { p.edge = Edge::turn_off; });
    changed([](OperatingPoint& p) { p.complementary = Complementary::conducting; });
    check_walk(input, points);
}

TEST_CASE("a cached network equals one built anew along the walks of the reference cases") {
    for (const char* name : {"pair-cascode", "pair-with-bead", "star-4-mosfet"}) {
        CAPTURE(name);
        const Case input = read_case(std::string(RINGQUELL_TEST_DATA) + "/reference/" + name + ".yaml");
        check_walk(input, operating_path(input).points);
    }
}

TEST_CASE("a recorded elimination fits no network with another constant, and takes none but 1 and -1") {
    const Case input = read_case(RINGQUELL_CASES "/ropeway-first.yaml");
    const Network network = build_network(input, operating_path(input).points.front());
    const NetworkStructure structure(network);
    CHECK(structure.fits(network));
    REQUIRE_FALSE(network.constant.empty());
    const auto& first = network.constant.front();
    Network turned = network, moved = network, scaled = network;
    turned.constant.front() = {first.row(), first.col(), -first.value()};
    moved.constant.front() = {first.row(), (first.col() + 1) % network.size(), first.value()};
    scaled.constant.front() = {first.row(), first.col(), 0.3};
    CHECK_FALSE(structure.fits(turned));
    CHECK_FALSE(structure.fits(moved));
    CHECK_FALSE(structure.fits(scaled));
    CHECK_THROWS_WITH_AS(NetworkStructure{scaled}, "a network's constants must be 1 or -1", std::logic_error);
}
