#include "reader/idle_keys.h"

#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <string>

#include "base/lists.h"
#include "case/enum_names.h"

namespace ringquell::internal {

namespace {

bool depends_on_temperature(const Die& die) {
    const auto* curves = std::get_if<TransferChannel>(&die.channel);
    return curves != nullptr && curves->curves.size() > 1;
}

bool depends_on_temperature(const Device& device) {
    const bool jfet = device.kind == DeviceKind::cascode;
    return device.gate_resistance.per_kelvin != 0 || depends_on_temperature(device.mosfet) ||
           (jfet && (device.jfet_gate_resistance.per_kelvin != 0 || depends_on_temperature(device.jfet)));
}

class IdleKeys {
  public:
    explicit IdleKeys(const Case& input) : input_(input) {}

    std::vector<Warning> run() {
        rails();
        driver();
        power_loop();
        series_capacitances();
        gate_diode();
        choke();
        kelvin_path();
        package();
        legs();
        dice();
        temperatures();
        operation();
        return std::move(out_);
    }

  private:
    void idle(const std::string& key, const std::string& why) {
        out_.push_back({key, "does nothing: " + why});
    }
    /// The same of the positions at which `test` holds; none: nothing to say.
    void idle_where(const std::string& key, const std::function<bool(const Position&)>& test,
                    const std::string& why) {
        std::vector<int> at;
        for (int k = 1; k <= input_.n(); ++k)
            if (test(input_.positions[static_cast<size_t>(k) - 1])) at.push_back(k);
        if (at.empty()) return;
        const bool everywhere = static_cast<int>(at.size()) == input_.n();
        idle(key, why + (everywhere ? "" : at_positions(at, input_.n())));
    }

    bool isolated() const { return input_.driver.per_position == DriverSharing::isolated; }
    bool own_drivers() const { return input_.driver.per_position != DriverSharing::shared; }
    long kelvin_paths() const {
        return std::count_if(input_.positions.begin(), input_.positions.end(),
                             [](const Position& p) { return p.kelvin_path.has_value(); });
    }

    void rails() {
        for (size_t r = 0; r < rail_names.size(); ++r) {
            const auto& bus = input_.buses[r];
            if (!bus) continue;
            const std::string key = fmt::format("buses.{}", rail_names[r]);
            const auto rail = static_cast<Rail>(r);
            const auto is_zero = [](double x) { return x == 0; };
            if (input_.n() == 1)
                idle(key, "with one position a rail has no segments");
            else if (rail == Rail::gate && own_drivers())
                idle(key, "each position has its own driver, so there is no gate rail");
            else if (rail == Rail::kelvin && isolated())
                idle(key, "each position has its own isolated driver, so there is no Kelvin rail");
            else if (rail == Rail::kelvin && kelvin_paths() == 0)
                idle(key, "no position has a Kelvin path, so there is no Kelvin rail");
            else if (bus->feed_at != 1 &&
                     std::all_of(bus->inductance_h.begin(), bus->inductance_h.end(), is_zero) &&
                     std::all_of(bus->resistance_ohm.begin(), bus->resistance_ohm.end(), is_zero))
                idle(key + ".feed_at",
                     "the rail has neither inductance nor resistance, so its taps are one node");
        }
    }

    void driver() {
        const Driver& d = input_.driver;
        if (isolated() && d.return_to != DriverReturn::kelvin_rail)
            idle("driver.return_to", "an isolated driver returns at its own Kelvin tap");
        if (!isolated()) {
            for (const auto& [key, value] :
                 {std::pair{"driver.barrier_capacitance", d.barrier_capacitance_f},
                  std::pair{"driver.barrier_resistance", d.barrier_resistance_ohm}})
                if (value != 0) idle(key, "only drivers with `per_position: isolated` have a barrier");
        } else if (d.barrier_capacitance_f == 0 && d.barrier_resistance_ohm != 0) {
            idle("driver.barrier_resistance",
                 "it is in series with `driver.barrier_capacitance`, which is zero: an open barrier");
        }
        if (d.bypass) supply(*d.bypass, "driver.bypass", "the driver is open while turning on");
        if (d.turn_off_bypass)
            supply(*d.turn_off_bypass, "driver.turn_off_bypass", "the driver is open while turning off");
    }

    /// A capacitor of zero opens all it is in series with.
    void supply(const Capacitor& c, const std::string& key, const std::string& what) {
        if (c.capacitance_f != 0) return;
        for (const auto& [name, value] : {std::pair{".esr", c.esr_ohm}, std::pair{".esl", c.esl_h}})
            if (value != 0) idle(key + name, fmt::format("`{}.capacitance` is zero, so {}", key, what));
    }

    void complementary(const ComplementaryDevice& c, const std::string& key) {
        if (!c.curve && c.capacitance_f == 0 && c.resistance_ohm != 0)
            idle(key + ".resistance",
                 fmt::format("it is in series with `{}.capacitance`, which is zero", key));
    }

    void power_loop() {
        const PowerLoop& loop = input_.power_loop;
        complementary(loop.complementary, "power_loop.complementary");
        if (loop.dc_link) supply(*loop.dc_link, "power_loop.dc_link", "the power loop is open");
        if (loop.load && loop.load->capacitance_f == 0 && loop.load->resistance_ohm != 0)
            idle("power_loop.load.resistance",
                 "it is in series with `power_loop.load.capacitance`, which is zero");
    }

    void series_capacitances() {
        using Member = std::optional<SeriesRlc> Position::*;
        for (const auto& [key, member] : {std::pair<const char*, Member>{"snubber", &Position::snubber},
                                          std::pair<const char*, Member>{"gate_shunt", &Position::gate_shunt},
                                          std::pair<const char*, Member>{"gate_drain", &Position::gate_drain},
                                          std::pair<const char*, Member>{"tab", &Position::tab}}) {
            const Member m = member;
            const std::string why = fmt::format("it is in series with `{}.capacitance`, which is zero", key);
            idle_where(
                fmt::format("{}.resistance", key),
                [m](const Position& p) {
                    return p.*m && (p.*m)->capacitance_f == 0 && (p.*m)->resistance_ohm != 0;
                },
                why);
            idle_where(
                fmt::format("{}.inductance", key),
                [m](const Position& p) {
                    return p.*m && (p.*m)->capacitance_f == 0 && (p.*m)->inductance_h != 0;
                },
                why);
        }
        const auto has_tab = [](const Position& p) { return p.tab && p.tab->capacitance_f != 0; };
        if (std::count_if(input_.positions.begin(), input_.positions.end(), has_tab) == 1)
            idle_where("tab", has_tab, "it joins the drains of several positions, and one alone has it");
    }

    void gate_diode() {
        const auto shorted = [](const Position& p, bool blocking) {
            if (!p.gate_path.diode) return false;
            const Edge blocks = p.gate_path.diode->blocks;
            const Edge other = blocks == Edge::turn_on ? Edge::turn_off : Edge::turn_on;
            return p.gate_path.resistor_ohm.of(blocking ? blocks : other) == 0;
        };
        const std::string why =
            "the diode stands beside the gate resistor, which is zero, a wire, on the edge on which it {}";
        idle_where(
            "gate_path.diode", [&](const Position& p) { return shorted(p, true) && shorted(p, false); },
            "the diode stands beside the gate resistor, which is zero, a wire, on both edges");
        idle_where(
            "gate_path.diode.capacitance",
            [&](const Position& p) {
                return shorted(p, true) && !shorted(p, false) && p.gate_path.diode->capacitance_f != 0;
            },
            fmt::format(fmt::runtime(why), "blocks"));
        idle_where(
            "gate_path.diode.on_resistance",
            [&](const Position& p) { return shorted(p, false) && !shorted(p, true); },
            fmt::format(fmt::runtime(why), "conducts"));
    }

    void choke() {
        const auto none = [](const Position& p) {
            return p.common_mode_choke && p.common_mode_choke->inductance_h == 0;
        };
        const std::string why = "`common_mode_choke.inductance` is zero, so there is no choke";
        idle_where(
            "common_mode_choke.leakage",
            [&](const Position& p) { return none(p) && p.common_mode_choke->leakage_h != 0; }, why);
        idle_where(
            "common_mode_choke.resistance",
            [&](const Position& p) { return none(p) && p.common_mode_choke->resistance_ohm; }, why);
    }

    void kelvin_path() {
        if (isolated() || input_.driver.return_to != DriverReturn::source_rail || kelvin_paths() != 1) return;
        idle_where(
            "kelvin_path",
            [](const Position& p) {
                return p.kelvin_path && (p.kelvin_path->inductance_h != 0 ||
                                         p.kelvin_path->resistor_ohm != 0 || p.kelvin_path->bead);
            },
            "the driver returns to the source rail and no other position has a Kelvin path, so no "
            "current flows in it");
    }

    void package() {
        idle_where(
            "device.package.kelvin_resistance",
            [](const Position& p) {
                return !p.device.package.kelvin_h && p.device.package.kelvin_resistance_ohm != 0;
            },
            "without `device.package.kelvin` there is no Kelvin lead");
    }

    void temperatures() {
        const auto has_own = [](const Position& p) { return p.junction_temperature_degc.has_value(); };
        const auto& points = input_.operation.points;
        idle_where(
            "junction_temperature",
            [&](const Position& p) {
                return has_own(p) && !depends_on_temperature(p.device) &&
                       std::none_of(points.begin(), points.end(), [](const Point& point) {
                           return std::any_of(point.devices.begin(), point.devices.end(),
                                              [](const Device& d) { return depends_on_temperature(d); });
                       });
            },
            "nothing in the device depends on it; `transfer` curves of several temperatures and "
            "`gate_resistance.per_kelvin` do");
        const Operation untouched;
        if (std::all_of(input_.positions.begin(), input_.positions.end(), has_own) &&
            input_.operation.junction_temperatures_degc != untouched.junction_temperatures_degc)
            idle("operation.junction_temperature", "every position has a `junction_temperature` of its own");
    }

    void legs() {
        idle_where(
            "leg",
            [](const Position& p) { return p.leg && p.leg->dc_link && p.leg->dc_link->capacitance_f == 0; },
            "`leg.dc_link.capacitance` is zero, so the leg is open");
        idle_where(
            "leg.complementary.resistance",
            [](const Position& p) {
                return p.leg && !p.leg->complementary.curve && p.leg->complementary.capacitance_f == 0 &&
                       p.leg->complementary.resistance_ohm != 0;
            },
            "it is in series with `leg.complementary.capacitance`, which is zero");
    }

    void dice() {
        const auto lost = [](const Die& die, double FixedCapacitance::*beside) {
            const auto* fixed = std::get_if<FixedCapacitance>(&die.capacitance);
            return fixed && fixed->*beside == 0 && die.output_resistance_ohm != 0;
        };
        const bool cascode = input_.positions.front().device.kind == DeviceKind::cascode;
        const std::string mosfet = cascode ? "device.mosfet.capacitance" : "device.capacitance";
        idle_where(
            mosfet + ".output_resistance",
            [&](const Position& p) { return lost(p.device.mosfet, &FixedCapacitance::cds_f); },
            fmt::format("it is in series with `{}.cds`, which is zero", mosfet));
        if (cascode)
            idle_where(
                "device.jfet.capacitance.output_resistance",
                [&](const Position& p) { return lost(p.device.jfet, &FixedCapacitance::cgd_f); },
                "it is in series with `device.jfet.capacitance.cgd`, which is zero");
    }

    void operation() {
        const Operation& op = input_.operation;
        const bool saturates =
            std::any_of(input_.positions.begin(), input_.positions.end(), [](const Position& p) {
                const auto& gate = p.gate_path.bead;
                const auto& kelvin = p.kelvin().bead;
                return (gate && !gate->saturation.empty()) || (kelvin && !kelvin->saturation.empty());
            });
        for (size_t i = 0; i < op.points.size(); ++i)
            if (op.points[i].gate_current_a && !saturates)
                idle(fmt::format("operation.points[{}].gate_current", i + 1),
                     "it biases beads with `saturation`, and this case has none");
        if (!op.path) return;
        const bool cascode = input_.positions.front().device.kind == DeviceKind::cascode;
        if (op.path->plateau && !cascode)
            idle("operation.path.plateau", "only a cascode's walk has that stage");
        for (const auto& [stage, seconds] : op.path->durations_s) {
            const bool inner = stage.ends_with(" onset") || stage.ends_with(" plateau");
            if (inner && !cascode)
                idle("operation.path.durations." + stage, "only a cascode's walk has that stage");
            if (stage.ends_with(" peak") && !op.path->peak_current_a)
                idle("operation.path.durations." + stage,
                     "without `peak_current` the walk has no such stage");
        }
    }

    const Case& input_;
    std::vector<Warning> out_;
};

}  // namespace

std::vector<Warning> idle_keys(const Case& input) {
    return IdleKeys(input).run();
}

}  // namespace ringquell::internal
