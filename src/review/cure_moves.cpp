#include "review/cure_moves.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "case/key.h"
#include "modes/effort.h"
#include "ringquell/acceptable.h"
#include "ringquell/network.h"
#include "ringquell/numbers.h"
#include "ringquell/quantity.h"
#include "ringquell/vary.h"
#include "sizing/e24.h"

namespace ringquell::internal {

namespace {

/// Typical values of parts that are new: common practice, no source.
constexpr double typical_gate_ohm = 4.7, typical_kelvin_ohm = 1;
constexpr double typical_bead_ohm = 50, bead_knee_hz = 100e6, bead_dc_ohm = 0.03, bead_f = 1e-12;
constexpr double typical_snubber_f = 470e-12, typical_snubber_ohm = 4.7, new_snubber_h = 2e-9;
constexpr double typical_shunt_f = 1e-9, typical_shunt_ohm = 1, new_shunt_h = 1e-9;
constexpr double typical_choke_h = 470e-9, choke_leakage = 0.02, choke_ohm = 100;

/// To three digits, so that what is printed is what is meant.
double rounded(double value) {
    const double step = std::pow(10.0, std::floor(std::log10(value)) - 2);
    return std::round(value / step) * step;
}

std::string text(double value, Dimension dimension) {
    return engineering(value, dimension, 4);
}

/// E24 or E6 values (IEC 60063) in a range.
std::vector<double> series(bool e24, double from, double to) {
    std::vector<double> out;
    for (double v = e24_at_least(from); v <= to * (1 + 1e-12); v = e24_at_least(1.01 * v)) {
        const double lead = v / std::pow(10.0, std::floor(std::log10(v * (1 + 1e-9))));
        const auto is = [&](double x) { return std::abs(lead - x) < 1e-6; };
        if (e24 || is(1) || is(1.5) || is(2.2) || is(3.3) || is(4.7) || is(6.8)) out.push_back(v);
    }
    return out;
}

/// The same of capacitances, which are small.
std::vector<double> e6_farads(double from, double to) {
    constexpr double pico = 1e-12;
    std::vector<double> out;
    for (const double v : series(false, from / pico, to / pico)) out.push_back(v * pico);
    return out;
}

double octaves(double from, double to) {
    return std::abs(std::log2(to / from));
}

double resistance_of(const Bead& bead) {
    return std::accumulate(bead.sections.begin(), bead.sections.end(), 0.0,
                           [](double sum, const BeadSection& s) { return sum + s.resistance_ohm; });
}

Bead typical_bead(double ohm) {
    Bead out;
    out.dc_resistance_ohm = bead_dc_ohm;
    out.capacitance_f = bead_f;
    const double henry = ohm / (2 * M_PI * bead_knee_hz);
    out.sections = {{ohm, std::round(henry * 1e9) * 1e-9}};
    return out;
}

class Moves {
  public:
    Moves(const Case& input, const CureOptions& options, const std::vector<Edge>& edges, bool short_list)
        : in_(input), options_(options), edges_(edges), short_(short_list) {}

    std::vector<Move> run() {
        gate_resistors();
        beads(true);
        snubber();
        if (!short_) {
            beads(false);
            kelvin_resistor();
            gate_shunt();
            choke();
            driver();
            layout();
            named();
        }
        for (Move& m : out_) {
            for (Setting& s : m.settings) s.gate_resistor = m.gate_resistor;
            sort(m);
        }
        std::erase_if(out_, [](const Move& m) { return m.settings.empty(); });
        return std::move(out_);
    }

  private:
    using Values = std::vector<double>;

    bool allowed(const std::string& key) const {
        return std::none_of(in_.cure.fixed.begin(), in_.cure.fixed.end(),
                            [&](const std::string& pattern) { return matches(pattern, key); });
    }
    double from(const std::string& key, double usual) const { return end(key, usual, &CureRange::from); }
    double to(const std::string& key, double usual) const { return end(key, usual, &CureRange::to); }
    double end(const std::string& key, double usual, std::optional<double> CureRange::*which) const {
        const auto found = in_.cure.may.find(key);
        return found == in_.cure.may.end() ? usual : (found->second.*which).value_or(usual);
    }
    double effort(const std::string& key, CureEffort usual) const { return effort_of(in_.cure, key, usual); }

    template <class Get>
    Values of_positions(const Get& get) const {
        Values out;
        for (const Position& p : in_.positions) out.push_back(get(p));
        return out;
    }
    template <class Test>
    bool everywhere(const Test& test) const {
        return std::all_of(in_.positions.begin(), in_.positions.end(), test);
    }
    static std::string old_text(const Values& old, Dimension dimension) {
        const auto [least, most] = std::minmax_element(old.begin(), old.end());
        if (*most == 0) return "";
        return *least == *most ? text(*least, dimension)
                               : text(*least, dimension) + " to " + text(*most, dimension);
    }
    /// What a value costs in place of the old ones, position by position; 0: nothing changes.
    double price(const std::string& key, const Values& old, double value, double typical,
                 CureEffort usual = CureEffort::value) const {
        if (std::any_of(old.begin(), old.end(), [](double o) { return o == 0; }))
            return effort(key, usual == CureEffort::value ? CureEffort::part : usual) +
                   octaves(typical, value);
        double most = 0;
        for (const double o : old) most = std::max(most, octaves(o, value));
        return most == 0 ? 0 : effort(key, usual) + most;
    }
    static bool is_coarse(size_t k) {
        constexpr size_t every = 4;
        return k % every == 0;
    }
    static void sort(Move& m) {
        std::vector<size_t> order(m.settings.size());
        std::iota(order.begin(), order.end(), size_t{0});
        std::stable_sort(order.begin(), order.end(),
                         [&](size_t a, size_t b) { return m.settings[a].price < m.settings[b].price; });
        Move sorted = m;
        for (size_t k = 0; k < order.size(); ++k) {
            sorted.settings[k] = m.settings[order[k]];
            if (!m.values.empty()) sorted.values[k] = m.values[order[k]];
        }
        m = std::move(sorted);
    }
    /// A resistor of E24 values.
    void resistor(Move move, const Values& old, double least, double most, double typical,
                  const std::function<void(Case&, double)>& fit) {
        if (!allowed(move.key)) return;
        size_t k = 0;
        for (const double ohm : series(true, std::max(least, 0.1), most)) {
            const double cost = price(move.key, old, ohm, typical, move.effort);
            if (cost == 0) continue;
            move.settings.push_back(
                {{{move.key, old_text(old, Dimension::resistance), text(ohm, Dimension::resistance)}},
                 cost,
                 false,
                 is_coarse(k++),
                 [fit, ohm](Case& c) { fit(c, ohm); }});
        }
        out_.push_back(std::move(move));
    }

    void gate_resistors() {
        constexpr double least_ohm = 0.5;
        const double most = in_.require.gate_resistance_limit_ohm;
        Values fitted[2];
        for (const Edge edge : edges_) {
            Values& old = fitted[edge == Edge::turn_on ? 0 : 1];
            old = of_positions([&](const Position& p) {
                const bool by_diode = p.gate_path.diode && p.gate_path.diode->blocks != edge;
                return by_diode ? p.gate_path.diode->resistor_ohm : p.gate_path.resistor_ohm.of(edge);
            });
            Move move;
            const std::string element = gate_resistor_element(in_, edge);
            const bool by_diode = element != "gate_path.resistor";
            move.key = by_diode ? element : element + (edge == Edge::turn_on ? ".turn_on" : ".turn_off");
            move.what = fmt::format("the gate resistor of {}", edge_name_words(edge));
            move.gate_resistor = true;
            move.edge = edge;
            const std::string bounds = in_.cure.may.contains(move.key) ? move.key : element;
            resistor(move, old, from(bounds, least_ohm), to(bounds, most), typical_gate_ohm,
                     [edge](Case& c, double ohm) { fit_gate_resistor(c, edge, ohm); });
        }
        const bool one_value = edges_.size() == 2 && fitted[0] == fitted[1] &&
                               everywhere([](const Position& p) { return !p.gate_path.diode; });
        if (!one_value) return;
        Move move;
        move.key = "gate_path.resistor";
        move.what = "one gate resistor for both edges";
        move.gate_resistor = true;
        resistor(move, fitted[0], from(move.key, least_ohm), to(move.key, most), typical_gate_ohm,
                 [](Case& c, double ohm) {
                     fit_gate_resistor(c, Edge::turn_on, ohm);
                     fit_gate_resistor(c, Edge::turn_off, ohm);
                 });
    }
    static const char* edge_name_words(Edge edge) { return edge == Edge::turn_on ? "turn-on" : "turn-off"; }

    /// Dice inside a module take no parts beside them.
    bool bare_dice() const {
        return everywhere([](const Position& p) { return p.device.package == Package{}; });
    }
    bool kelvin_paths() const {
        return in_.n() > 1 && everywhere([](const Position& p) { return p.kelvin_path.has_value(); });
    }

    void beads(bool gate) {
        const std::string key = gate ? "gate_path.bead" : "kelvin_path.bead";
        if (!allowed(key) || bare_dice() || (!gate && !kelvin_paths())) return;
        const auto bead_of = [gate](auto& p) -> auto& {
            return gate ? p.gate_path.bead : p.kelvin_path->bead;
        };
        const bool fitted = everywhere([&](const Position& p) { return bead_of(p).has_value(); });
        const auto& now = bead_of(in_.positions.front());
        Move move;
        move.key = key;
        move.what =
            fmt::format("{} bead in each {} path", fitted ? "another" : "a", gate ? "gate" : "Kelvin");
        move.effort = fitted ? CureEffort::value : CureEffort::part;
        const auto add = [&](const Bead& bead, const std::string& name, const std::string& words) {
            if (everywhere([&](const Position& p) { return bead_of(p) && *bead_of(p) == bead; })) return;
            const double old = fitted ? resistance_of(*now) : typical_bead_ohm;
            const std::string was = !now ? "" : now->name.empty() ? "the fitted bead" : now->name;
            move.settings.push_back({{{key, was, name, words}},
                                     effort(key, move.effort) + octaves(old, resistance_of(bead)),
                                     false,
                                     true,
                                     [bead_of, bead](Case& c) {
                                         for (Position& p : c.positions) bead_of(p) = bead;
                                     }});
        };
        for (const BeadCandidate& b : options_.beads) add(*b.bead, b.name, "");
        if (options_.beads.empty())
            for (const double ohm : {typical_bead_ohm, typical_bead_ohm / 2, 2 * typical_bead_ohm}) {
                const Bead bead = typical_bead(ohm);
                add(bead,
                    fmt::format("{{dc_resistance: {}, resistance: {}, inductance: {}, capacitance: {}}}",
                                text(bead.dc_resistance_ohm, Dimension::resistance),
                                text(ohm, Dimension::resistance),
                                text(bead.sections.front().inductance_h, Dimension::inductance),
                                text(bead.capacitance_f, Dimension::capacitance)),
                    fmt::format("{} beside {}", text(ohm, Dimension::resistance),
                                text(bead.sections.front().inductance_h, Dimension::inductance)));
            }
        out_.push_back(std::move(move));
    }

    void kelvin_resistor() {
        if (!kelvin_paths()) return;
        Move move;
        move.key = "kelvin_path.resistor";
        move.what = "a resistor in each Kelvin path";
        constexpr double least_ohm = 0.5, most_ohm = 10;
        resistor(move, of_positions([](const Position& p) { return p.kelvin().resistor_ohm; }),
                 from(move.key, least_ohm), to(move.key, most_ohm), typical_kelvin_ohm,
                 [](Case& c, double ohm) {
                     for (Position& p : c.positions) p.kelvin_path->resistor_ohm = ohm;
                 });
    }

    /// A capacitance and a resistance in series: what a new one costs, or another value of either.
    struct Pair {
        std::string key;
        std::optional<SeriesRlc> Position::*part;
        double typical_f, typical_ohm, new_h;
        Values farads, ohms;
    };
    void pair(Move move, const Pair& of) {
        const bool fitted =
            everywhere([&](const Position& p) { return p.*(of.part) && (p.*(of.part))->capacitance_f > 0; });
        const std::string c_key = of.key + ".capacitance", r_key = of.key + ".resistance";
        if (!allowed(c_key) || !allowed(r_key)) return;
        const auto values = [&](double SeriesRlc::*which) {
            return of_positions(
                [&](const Position& p) { return p.*(of.part) ? (*(p.*(of.part))).*which : 0.0; });
        };
        const Values old_f = values(&SeriesRlc::capacitance_f), old_ohm = values(&SeriesRlc::resistance_ohm);
        const auto with_old = [&](Values list, const Values& old) {
            if (fitted && std::find(list.begin(), list.end(), old.front()) == list.end())
                list.push_back(old.front());
            return list;
        };
        size_t i = 0;
        for (const double farad : with_old(of.farads, old_f)) {
            ++i;
            size_t j = 0;
            for (const double ohm : with_old(of.ohms, old_ohm)) {
                const double c_price = price(c_key, old_f, farad, of.typical_f),
                             r_price = price(r_key, old_ohm, ohm, of.typical_ohm);
                Setting s;
                s.coarse = (i + 1) % 2 == 0 && is_coarse(j++);
                s.price = fitted ? c_price + r_price
                                 : effort(c_key, CureEffort::part) + octaves(of.typical_f, farad) +
                                       octaves(of.typical_ohm, ohm);
                if (s.price == 0) continue;
                if (!fitted || c_price > 0)
                    s.changes.push_back({c_key, old_text(old_f, Dimension::capacitance),
                                         text(farad, Dimension::capacitance)});
                if (!fitted || r_price > 0)
                    s.changes.push_back(
                        {r_key, old_text(old_ohm, Dimension::resistance), text(ohm, Dimension::resistance)});
                if (!fitted)
                    s.changes.push_back({of.key + ".inductance", "", text(of.new_h, Dimension::inductance)});
                s.apply = [of, fitted, farad, ohm](Case& c) {
                    for (Position& p : c.positions) {
                        auto& part = p.*(of.part);
                        if (!fitted) part = SeriesRlc{0, 0, of.new_h};
                        part->capacitance_f = farad;
                        part->resistance_ohm = ohm;
                    }
                };
                move.settings.push_back(std::move(s));
            }
        }
        out_.push_back(std::move(move));
    }
    void snubber() {
        if (bare_dice()) return;
        constexpr double least_f = 47e-12, most_f = 10e-9, least_ohm = 1, most_ohm = 100;
        Move move;
        move.key = "snubber";
        move.what = everywhere([](const Position& p) { return p.snubber && p.snubber->capacitance_f > 0; })
                        ? "another snubber across each device"
                        : "a snubber across each device";
        const std::string c_key = "snubber.capacitance", r_key = "snubber.resistance";
        pair(move, {move.key, &Position::snubber, typical_snubber_f, typical_snubber_ohm, new_snubber_h,
                    e6_farads(from(c_key, least_f), to(c_key, most_f)),
                    series(!short_, std::max(from(r_key, least_ohm), 0.1), to(r_key, most_ohm))});
    }
    void gate_shunt() {
        if (bare_dice()) return;
        constexpr double least_f = 100e-12, most_f = 10e-9, least_ohm = 0.5, most_ohm = 22;
        Move move;
        move.key = "gate_shunt";
        move.what = "a capacitor and resistor from each gate to its Kelvin pin";
        const std::string c_key = "gate_shunt.capacitance", r_key = "gate_shunt.resistance";
        pair(move, {move.key, &Position::gate_shunt, typical_shunt_f, typical_shunt_ohm, new_shunt_h,
                    e6_farads(from(c_key, least_f), to(c_key, most_f)),
                    series(false, std::max(from(r_key, least_ohm), 0.1), to(r_key, most_ohm))});
    }

    void choke() {
        const std::string key = "common_mode_choke.inductance";
        if (!allowed(key) || bare_dice() || !kelvin_paths()) return;
        const bool fitted = everywhere(
            [](const Position& p) { return p.common_mode_choke && p.common_mode_choke->inductance_h > 0; });
        const Values old = of_positions(
            [](const Position& p) { return p.common_mode_choke ? p.common_mode_choke->inductance_h : 0.0; });
        Move move;
        move.key = key;
        move.what = "a common-mode choke in gate and Kelvin path";
        constexpr double nano = 1e-9, least = 100, most = 4700;
        for (const double nh : series(false, from(key, least * nano) / nano, to(key, most * nano) / nano)) {
            const double henry = nh * nano;
            const double cost = price(key, old, henry, typical_choke_h);
            if (cost == 0) continue;
            std::vector<CureChange> changes{
                {key, old_text(old, Dimension::inductance), text(henry, Dimension::inductance)}};
            const double leakage = choke_leakage * henry;
            if (!fitted) {
                changes.push_back({"common_mode_choke.leakage", "", text(leakage, Dimension::inductance)});
                changes.push_back(
                    {"common_mode_choke.resistance", "", text(choke_ohm, Dimension::resistance)});
            }
            move.settings.push_back({changes, cost, false, true, [fitted, henry, leakage](Case& c) {
                                         for (Position& p : c.positions) {
                                             if (!fitted)
                                                 p.common_mode_choke = CommonModeChoke{0, leakage, choke_ohm};
                                             p.common_mode_choke->inductance_h = henry;
                                         }
                                     }});
        }
        out_.push_back(std::move(move));
    }

    void driver() {
        for (const Edge edge : edges_) {
            const bool on = edge == Edge::turn_on;
            Move move;
            move.key = on ? "driver.pull_up_resistance" : "driver.pull_down_resistance";
            move.what = fmt::format("a driver of another resistance for {}", edge_name_words(edge));
            move.effort = CureEffort::driver;
            move.edge = edge;
            const auto which = on ? &Driver::pull_up_resistance_ohm : &Driver::pull_down_resistance_ohm;
            const double now = in_.driver.*which;
            if (now == 0) continue;
            constexpr double far = 4;
            resistor(move, {now}, from(move.key, now / far), to(move.key, now * far), now,
                     [which](Case& c, double ohm) { c.driver.*which = ohm; });
        }
    }

    void layout() {
        for (const std::string& key : layout_keys(in_)) {
            const auto number = find_number(in_, key);
            if (number.dimension != Dimension::inductance) continue;
            free_number(key);
            bool one = false;
            if (!is_position_number(key, one) || key.starts_with("device") ||
                in_.n() >= points_in_parallel_from)
                continue;
            // One position whose value is not that of most: it may be brought to the others.
            Values sorted = values_of(key);
            std::sort(sorted.begin(), sorted.end());
            const double middle = sorted[sorted.size() / 2];
            for (int k = 1; k <= in_.n(); ++k) {
                const std::string of_one = at_position(key, k);
                try {
                    if (values_of(of_one).front() != middle) free_number(of_one);
                } catch (const InputError&) {
                    continue;  // this position has not got it
                }
            }
        }
    }
    /// What `cure: may` names beside the usual.
    void named() {
        for (const auto& [key, range] : in_.cure.may) {
            const auto same = [&](const Move& m) {
                return m.key == key || key.starts_with(m.key + ".") || m.key.starts_with(key + ".");
            };
            if (std::any_of(out_.begin(), out_.end(), same) || !cure_dimension(in_, key)) continue;
            try {
                find_number(in_, key);
            } catch (const InputError&) {
                continue;  // a part that this case has not got, and that is not offered here
            }
            free_number(key);
        }
    }
    Values values_of(const std::string& key) const {
        Values out;
        for (const double* v : find_number(in_, key).values) out.push_back(*v);
        return out;
    }
    /// A number that may have any value in its range.
    void free_number(const std::string& key) {
        if (!allowed(key)) return;
        const Values old = values_of(key);
        Values sorted = old;
        std::sort(sorted.begin(), sorted.end());
        const double now = sorted[sorted.size() / 2];
        const Dimension dimension = find_number(in_, key).dimension;
        const bool bought = key.starts_with("driver.") || key.starts_with("device.");
        Move move;
        move.key = key;
        move.what = key;
        move.effort = bought ? CureEffort::driver : CureEffort::layout;
        move.now = now;
        const double high = to(key, 2 * now), low = from(key, now / 2);
        if (!(high > 0)) return;
        const double typical = now > 0 ? now : high;
        const double cheapest = effort(key, move.effort);
        move.at = [key, old, dimension, typical, cheapest](double value) {
            double most = 0;
            for (const double o : old) most = std::max(most, octaves(o > 0 ? o : typical, value));
            Setting s;
            s.changes = {{key, old_text(old, dimension), text(value, dimension)}};
            s.price = cheapest + most;
            s.apply = [key, value](Case& c) {
                for (double* v : find_number(c, key).values) *v = value;
            };
            return s;
        };
        constexpr double per_octave = 8, farthest = 1024;
        const double least = std::max(low, high / farthest);
        const int steps = std::max(2, static_cast<int>(std::ceil(per_octave * std::log2(high / least))));
        for (int k = 0; k <= steps; ++k) {
            const double value = rounded(least * std::pow(high / least, static_cast<double>(k) / steps));
            if (value < low || value > high) continue;
            add_value(move, value, old, is_coarse(static_cast<size_t>(k)) || k == steps);
        }
        if (sorted.front() != sorted.back()) add_value(move, now, old, true);
        out_.push_back(std::move(move));
    }
    static void add_value(Move& move, double value, const Values& old, bool coarse) {
        constexpr double same = 1e-6;
        if (std::all_of(old.begin(), old.end(), [&](double o) { return std::abs(value - o) <= same * o; }))
            return;
        move.settings.push_back(move.at(value));
        move.settings.back().coarse = coarse;
        move.values.push_back(value);
    }

    const Case& in_;
    const CureOptions& options_;
    const std::vector<Edge>& edges_;
    bool short_;
    std::vector<Move> out_;
};

}  // namespace

std::vector<Move> cure_moves(const Case& input, const CureOptions& options, const std::vector<Edge>& edges,
                             bool short_list) {
    return Moves(input, options, edges, short_list).run();
}

}  // namespace ringquell::internal
