#include <fmt/format.h>

#include <algorithm>
#include <vector>

#include "case/enum_names.h"
#include "page/drawing.h"
#include "page/drawn_parts.h"
#include "ringquell/quantity.h"

namespace ringquell::internal {

namespace {

/// All segments of a rail as one symbol; wires draw nothing.
DrawnParts segments(DrawnSymbol symbol, const std::string& element, const std::vector<double>& values,
                    Dimension dimension) {
    if (std::all_of(values.begin(), values.end(), [](double x) { return x == 0; })) return {};
    const auto [low, high] = std::minmax_element(values.begin(), values.end());
    std::string each = engineering(*low, dimension, 3);
    if (*low != *high) each += " to " + engineering(*high, dimension, 3);
    return {{symbol, values.size() == 1 ? each : fmt::format("{} times {}", values.size(), each), {element}}};
}

/// Not where every position has its own driver, and no Kelvin rail where each of these is isolated or no
/// position has a Kelvin path.
bool joins_positions(const Case& input, Rail rail) {
    const DriverSharing sharing = input.driver.per_position;
    if (rail == Rail::gate) return sharing == DriverSharing::shared;
    return rail != Rail::kelvin || (sharing != DriverSharing::isolated &&
                                    std::any_of(input.positions.begin(), input.positions.end(),
                                                [](const Position& p) { return p.kelvin_path.has_value(); }));
}

/// Strings of parts between two nodes, one below the other.
class SharedDrawing {
  public:
    SharedDrawing(const Case& input, const OperatingPoint& point, const EnergyShares& energy)
        : input_(input), point_(point), sheet_(energy) {}

    void driver();
    void power_loop();
    void load();
    /// Those that are rows, then those that are one node or none.
    void rails();
    const Sheet& sheet() const { return sheet_; }
    double height() const { return y_ - 20; }

  private:
    static constexpr double left = 70, right = 930, row = 104;

    void string(const std::string& name, const std::string& from, const std::string& to,
                const DrawnParts& parts);
    bool is_row(size_t rail) const {
        return joins_positions(input_, static_cast<Rail>(rail)) && input_.buses[rail] && input_.n() > 1;
    }

    const Case& input_;
    const OperatingPoint& point_;
    Sheet sheet_;
    double y_ = 64;
};

void SharedDrawing::string(const std::string& name, const std::string& from, const std::string& to,
                           const DrawnParts& parts) {
    sheet_.text(left - 50, y_ - 40, name, "start");
    sheet_.terminal(left, y_);
    sheet_.terminal(right, y_);
    sheet_.series(left + 6, y_, right - 6, y_, parts);
    sheet_.text(left - 50, y_ + 26, from, "start");
    sheet_.text(right + 40, y_ + 26, to, "end");
    y_ += row;
}

void SharedDrawing::driver() {
    const Driver& d = input_.driver;
    const bool on = point_.edge == Edge::turn_on;
    DrawnParts parts = inductor("driver.inductance", d.inductance_h);
    parts += on ? resistor("driver.pull_up_resistance", d.pull_up_resistance_ohm)
                : resistor("driver.pull_down_resistance", d.pull_down_resistance_ohm);
    parts += on ? with_esr("driver.bypass", d.bypass) : with_esr("driver.turn_off_bypass", d.turn_off_bypass);
    parts += inductor("driver.return_inductance", d.return_inductance_h);
    const char* whose = d.per_position == DriverSharing::shared   ? "driver"
                        : d.per_position == DriverSharing::buffer ? "driver, a buffer at each position"
                                                                  : "driver, isolated at each position";
    const bool own = d.per_position != DriverSharing::shared;
    const bool to_source =
        d.return_to == DriverReturn::source_rail && d.per_position != DriverSharing::isolated;
    string(fmt::format("{}, {}", whose, on ? "turning on" : "turning off"), own ? "gate tap" : "gate feed",
           to_source ? "source feed"
           : own     ? "Kelvin tap"
                     : "Kelvin feed",
           parts);
    if (d.per_position != DriverSharing::isolated || d.barrier_capacitance_f == 0) return;
    DrawnParts barrier = capacitor("driver.barrier_capacitance", d.barrier_capacitance_f);
    barrier += resistor("driver.barrier_resistance", d.barrier_resistance_ohm);
    string("isolation barrier of each driver", "driver ground", "source feed", barrier);
}

void SharedDrawing::power_loop() {
    const PowerLoop& loop = input_.power_loop;
    DrawnParts parts = inductor("power_loop.inductance", loop.inductance_h);
    parts += resistor("power_loop.resistance", loop.resistance_ohm);
    parts += complementary("power_loop.complementary", loop.complementary, point_.complementary,
                           point_.complementary_capacitance_f);
    parts += with_esr("power_loop.dc_link", loop.dc_link);
    string(fmt::format("power loop: the complementary device {}, then the DC link",
                       point_.complementary == Complementary::conducting ? "conducts" : "blocks"),
           "drain feed", "source feed", parts);
}

void SharedDrawing::load() {
    const auto& load = input_.power_loop.load;
    if (load && load->inductance_h)
        string("load", "drain feed", "source feed",
               inductor("power_loop.load.inductance", *load->inductance_h));
    if (!load || !(load->capacitance_f > 0)) return;
    DrawnParts parts = capacitor("power_loop.load.capacitance", load->capacitance_f);
    parts += resistor("power_loop.load.resistance", load->resistance_ohm);
    string("capacitance of the load", "drain feed", "source feed", parts);
}

void SharedDrawing::rails() {
    const auto word = [](size_t r) { return r == 1 ? "Kelvin" : rail_names[r]; };
    for (size_t r = 0; r < rail_names.size(); ++r) {
        if (!is_row(r)) continue;
        const auto& bus = input_.buses[r];
        const std::string key = fmt::format("buses.{}", rail_names[r]);
        DrawnParts parts =
            segments(DrawnSymbol::inductor, key + ".inductance", bus->inductance_h, Dimension::inductance);
        parts +=
            segments(DrawnSymbol::resistor, key + ".resistance", bus->resistance_ohm, Dimension::resistance);
        string(fmt::format("{} rail: a row of {} taps, fed at tap {}", word(r), input_.n(), bus->feed_at),
               "tap 1", fmt::format("tap {}", input_.n()), parts);
    }
    for (size_t r = 0; r < rail_names.size(); ++r) {
        if (is_row(r)) continue;
        const bool joins = joins_positions(input_, static_cast<Rail>(r));
        sheet_.text(left - 50, y_ - 30,
                    fmt::format("{} rail: {}", word(r),
                                joins ? "a star, one node" : "none; nothing joins the positions there"),
                    "start");
        y_ += 26;
    }
}

}  // namespace

std::string shared_drawing(const Case& input, const OperatingPoint& point, const EnergyShares& energy,
                           ShownEnergy* shown) {
    SharedDrawing drawing(input, point, energy);
    drawing.driver();
    drawing.power_loop();
    drawing.load();
    drawing.rails();
    const Sheet& sheet = drawing.sheet();
    const std::string description =
        fmt::format("Driver, power loop, load and rails, with the values at {}.{}", point.name,
                    standing_out(energy, sheet.heavy()));
    return framed(sheet,
                  {1000, drawing.height(), "shared-drawing", "What the positions share", description, {}, 0},
                  shown);
}

}  // namespace ringquell::internal
