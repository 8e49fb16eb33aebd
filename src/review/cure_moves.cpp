#include "review/cure_moves.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "review/cure_values.h"
#include "ringquell/acceptable.h"
#include "ringquell/network.h"

namespace ringquell::internal {

namespace {

/// Typical values of parts that are new: common practice, no source.
constexpr double typical_gate_ohm = 4.7, typical_kelvin_ohm = 1;
constexpr double typical_bead_ohm = 50, bead_knee_hz = 100e6, bead_dc_ohm = 0.03, bead_f = 1e-12;
constexpr double typical_snubber_f = 470e-12, typical_snubber_ohm = 4.7, new_snubber_h = 2e-9;
constexpr double typical_shunt_f = 1e-9, typical_shunt_ohm = 1, new_shunt_h = 1e-9;
constexpr double typical_choke_h = 470e-9, choke_leakage = 0.02, choke_ohm = 100;

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
        : in_(input), rules_(input), options_(options), edges_(edges), short_(short_list) {}

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
            add_free_numbers(in_, out_);
        }
        for (Move& m : out_) {
            for (Setting& s : m.settings) s.gate_resistor = m.gate_resistor;
            sort(m);
        }
        std::erase_if(out_, [](const Move& m) { return m.settings.empty(); });
        return std::move(out_);
    }

  private:
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
        if (!rules_.allowed(move.key)) return;
        size_t k = 0;
        for (const double ohm : series(true, std::max(least, 0.1), most)) {
            const double cost = rules_.price(move.key, old, ohm, typical, move.effort);
            if (cost == 0) continue;
            move.settings.push_back(
                {{{move.key, old_text(old, Dimension::resistance), setting_text(ohm, Dimension::resistance)}},
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
            resistor(move, old, rules_.from(bounds, least_ohm), rules_.to(bounds, most), typical_gate_ohm,
                     [edge](Case& c, double ohm) { fit_gate_resistor(c, edge, ohm); });
        }
        const bool one_value = edges_.size() == 2 && fitted[0] == fitted[1] &&
                               everywhere([](const Position& p) { return !p.gate_path.diode; });
        if (!one_value) return;
        Move move;
        move.key = "gate_path.resistor";
        move.what = "one gate resistor for both edges";
        move.gate_resistor = true;
        resistor(move, fitted[0], rules_.from(move.key, least_ohm), rules_.to(move.key, most),
                 typical_gate_ohm, [](Case& c, double ohm) {
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
        if (!rules_.allowed(key) || bare_dice() || (!gate && !kelvin_paths())) return;
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
                                     rules_.effort(key, move.effort) + octaves(old, resistance_of(bead)),
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
                                setting_text(bead.dc_resistance_ohm, Dimension::resistance),
                                setting_text(ohm, Dimension::resistance),
                                setting_text(bead.sections.front().inductance_h, Dimension::inductance),
                                setting_text(bead.capacitance_f, Dimension::capacitance)),
                    fmt::format("{} beside {}", setting_text(ohm, Dimension::resistance),
                                setting_text(bead.sections.front().inductance_h, Dimension::inductance)));
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
                 rules_.from(move.key, least_ohm), rules_.to(move.key, most_ohm), typical_kelvin_ohm,
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
        if (!rules_.allowed(c_key) || !rules_.allowed(r_key)) return;
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
                const double c_price = rules_.price(c_key, old_f, farad, of.typical_f),
                             r_price = rules_.price(r_key, old_ohm, ohm, of.typical_ohm);
                Setting s;
                s.coarse = (i + 1) % 2 == 0 && is_coarse(j++);
                s.price = fitted ? c_price + r_price
                                 : rules_.effort(c_key, CureEffort::part) + octaves(of.typical_f, farad) +
                                       octaves(of.typical_ohm, ohm);
                if (s.price == 0) continue;
                if (!fitted || c_price > 0)
                    s.changes.push_back({c_key, old_text(old_f, Dimension::capacitance),
                                         setting_text(farad, Dimension::capacitance)});
                if (!fitted || r_price > 0)
                    s.changes.push_back({r_key, old_text(old_ohm, Dimension::resistance),
                                         setting_text(ohm, Dimension::resistance)});
                if (!fitted)
                    s.changes.push_back(
                        {of.key + ".inductance", "", setting_text(of.new_h, Dimension::inductance)});
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
        pair(move,
             {move.key, &Position::snubber, typical_snubber_f, typical_snubber_ohm, new_snubber_h,
              e6_in(1e-12, rules_.from(c_key, least_f), rules_.to(c_key, most_f)),
              series(!short_, std::max(rules_.from(r_key, least_ohm), 0.1), rules_.to(r_key, most_ohm))});
    }
    void gate_shunt() {
        if (bare_dice()) return;
        constexpr double least_f = 100e-12, most_f = 10e-9, least_ohm = 0.5, most_ohm = 22;
        Move move;
        move.key = "gate_shunt";
        move.what = "a capacitor and resistor from each gate to its Kelvin pin";
        const std::string c_key = "gate_shunt.capacitance", r_key = "gate_shunt.resistance";
        pair(move, {move.key, &Position::gate_shunt, typical_shunt_f, typical_shunt_ohm, new_shunt_h,
                    e6_in(1e-12, rules_.from(c_key, least_f), rules_.to(c_key, most_f)),
                    series(false, std::max(rules_.from(r_key, least_ohm), 0.1), rules_.to(r_key, most_ohm))});
    }

    void choke() {
        const std::string key = "common_mode_choke.inductance";
        if (!rules_.allowed(key) || bare_dice() || !kelvin_paths()) return;
        const bool fitted = everywhere(
            [](const Position& p) { return p.common_mode_choke && p.common_mode_choke->inductance_h > 0; });
        const Values old = of_positions(
            [](const Position& p) { return p.common_mode_choke ? p.common_mode_choke->inductance_h : 0.0; });
        Move move;
        move.key = key;
        move.what = "a common-mode choke in gate and Kelvin path";
        constexpr double least_h = 100e-9, most_h = 4.7e-6;
        for (const double henry : e6_in(1e-9, rules_.from(key, least_h), rules_.to(key, most_h))) {
            const double cost = rules_.price(key, old, henry, typical_choke_h);
            if (cost == 0) continue;
            std::vector<CureChange> changes{
                {key, old_text(old, Dimension::inductance), setting_text(henry, Dimension::inductance)}};
            const double leakage = choke_leakage * henry;
            if (!fitted) {
                changes.push_back(
                    {"common_mode_choke.leakage", "", setting_text(leakage, Dimension::inductance)});
                changes.push_back(
                    {"common_mode_choke.resistance", "", setting_text(choke_ohm, Dimension::resistance)});
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
            resistor(move, {now}, rules_.from(move.key, now / far), rules_.to(move.key, now * far), now,
                     [which](Case& c, double ohm) { c.driver.*which = ohm; });
        }
    }

    const Case& in_;
    MoveRules rules_;
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
