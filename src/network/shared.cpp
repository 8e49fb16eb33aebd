#include <fmt/format.h>

#include <algorithm>

#include "network/parts.h"
#include "network/table.h"

namespace ringquell::internal {

namespace {

/// A driver's output: its inductance, its resistance and its supply.
std::vector<Part> driver_parts(const Driver& driver, Edge edge) {
    const Part output =
        inductance("driver.inductance", [](const At& at) { return at.input.driver.inductance_h; });
    if (edge == Edge::turn_on) {
        const Part pull_up = resistance("driver.pull_up_resistance",
                                        [](const At& at) { return at.input.driver.pull_up_resistance_ohm; });
        if (!driver.bypass) return {output, pull_up};  // an ideal supply
        return joined({output, pull_up}, capacitor_parts(
                                             "driver.bypass", [](const At& at) -> const auto& {
                                                 return *at.input.driver.bypass;
                                             }));
    }
    const Part pull_down = resistance("driver.pull_down_resistance",
                                      [](const At& at) { return at.input.driver.pull_down_resistance_ohm; });
    if (!driver.turn_off_bypass) return {output, pull_down};
    return joined({output, pull_down}, capacitor_parts(
                                           "driver.turn_off_bypass", [](const At& at) -> const auto& {
                                               return *at.input.driver.turn_off_bypass;
                                           }));
}

Part driver_return() {
    return inductance("driver.return_inductance",
                      [](const At& at) { return at.input.driver.return_inductance_h; });
}

/// A driver between gate side and return. `position` 0: the shared one.
void add_driver(NetworkBuilder& builder, int position, int gate, int back, double scale) {
    builder.series("driver", position, gate, back,
                   joined(driver_parts(builder.input().driver, builder.point().edge), {driver_return()}),
                   scale);
}

/// Numbers of a bus by segment and rail: index = 4·segment + rail.
const Bus& bus_of(const At& at) {
    return *at.input.buses[at.index % 4];
}

}  // namespace

bool rail_exists(const Case& input, Rail rail) {
    if (rail == Rail::gate) return input.driver.per_position == DriverSharing::shared;
    if (rail != Rail::kelvin) return true;
    return input.driver.per_position != DriverSharing::isolated &&
           std::any_of(input.positions.begin(), input.positions.end(),
                       [](const Position& p) { return p.kelvin_path.has_value(); });
}

Rails add_rails(NetworkBuilder& builder, int built, bool whole) {
    const Case& input = builder.input();
    Rails out;
    for (size_t r = 0; r < 4; ++r) {
        const bool exists = rail_exists(input, static_cast<Rail>(r));
        const std::string name = fmt::format("{} rail", rail_names[r]);
        const bool bus = exists && whole && input.buses[r].has_value();
        for (int k = 1; k <= built; ++k)
            out.taps[r].push_back(
                builder.node(!exists || bus ? fmt::format("{} tap[{}]", rail_names[r], k) : name));
        out.feed[r] = exists ? (bus ? builder.node(name) : out.taps[r][0]) : -1;
        if (!bus) continue;
        builder.wire(out.feed[r], out.taps[r][static_cast<size_t>(input.buses[r]->feed_at - 1)]);
        for (size_t k = 0; k + 1 < static_cast<size_t>(built); ++k) {
            const std::string segment = fmt::format("buses.{}[{}]", rail_names[r], k + 1);
            const Part henry = inductance(
                segment + ".inductance", [](const At& at) { return bus_of(at).inductance_h[at.index / 4]; },
                4 * k + r);
            const Part ohm = resistance(
                segment + ".resistance", [](const At& at) { return bus_of(at).resistance_ohm[at.index / 4]; },
                4 * k + r);
            builder.series(segment, 0, out.taps[r][k], out.taps[r][k + 1], {henry, ohm});
        }
    }
    return out;
}

void add_shared_driver(NetworkBuilder& builder, const Rails& rails, double scale) {
    const bool to_source = builder.input().driver.return_to == DriverReturn::source_rail;
    add_driver(builder, 0, rails.feed_of(Rail::gate), rails.feed_of(to_source ? Rail::source : Rail::kelvin),
               scale);
}

/// The barrier of an isolated driver hangs at its ground, which lies between its supply and its return
/// inductance.
void add_own_driver(NetworkBuilder& builder, const PositionNodes& at) {
    const Driver& driver = builder.input().driver;
    const bool isolated = driver.per_position == DriverSharing::isolated;
    const bool to_source = !isolated && driver.return_to == DriverReturn::source_rail;
    const int back = to_source ? at.source_feed : at.kelvin_tap;
    if (!isolated || driver.barrier_capacitance_f == 0)
        return add_driver(builder, at.number, at.gate_tap, back, 1);
    const int ground = builder.node(fmt::format("driver ground[{}]", at.number));
    builder.series("driver", at.number, at.gate_tap, ground, driver_parts(driver, builder.point().edge));
    builder.series("driver", at.number, ground, back, {driver_return()});
    builder.series("driver.barrier", at.number, ground, at.source_feed,
                   {capacitance("driver.barrier_capacitance",
                                [](const At& here) { return here.input.driver.barrier_capacitance_f; }),
                    resistance("driver.barrier_resistance",
                               [](const At& here) { return here.input.driver.barrier_resistance_ohm; })});
}

void add_power_loop(NetworkBuilder& builder, const Rails& rails, double scale) {
    const PowerLoop& loop = builder.input().power_loop;
    const int drain = rails.feed_of(Rail::drain), source = rails.feed_of(Rail::source);
    std::vector<Part> parts{
        inductance("power_loop.inductance", [](const At& at) { return at.input.power_loop.inductance_h; }),
        resistance("power_loop.resistance", [](const At& at) { return at.input.power_loop.resistance_ohm; })};
    parts = joined(parts, complementary_parts(
                              "power_loop.complementary", builder.point().complementary,
                              [](const At& at) { return at.point.complementary_capacitance_f; },
                              [](const At& at) -> const auto& { return at.input.power_loop.complementary; }));
    if (loop.dc_link)  // else an ideal supply
        parts = joined(parts, capacitor_parts(
                                  "power_loop.dc_link",
                                  [](const At& at) -> const auto& { return *at.input.power_loop.dc_link; }));
    builder.series("power_loop", 0, drain, source, parts, scale);
    if (!loop.load) return;
    if (loop.load->inductance_h)
        builder.series("power_loop.load", 0, drain, source,
                       {inductance("power_loop.load.inductance",
                                   [](const At& at) { return *at.input.power_loop.load->inductance_h; })},
                       scale);
    builder.series("power_loop.load", 0, drain, source,
                   {capacitance("power_loop.load.capacitance",
                                [](const At& at) { return at.input.power_loop.load->capacitance_f; }),
                    resistance("power_loop.load.resistance",
                               [](const At& at) { return at.input.power_loop.load->resistance_ohm; })},
                   scale);
}

}  // namespace ringquell::internal
