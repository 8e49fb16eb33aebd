#include "sample_space.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "coupling_names.h"
#include "random_numbers.h"
#include "read_case_parts.h"
#include "ringquell/network.h"
#include "ringquell/numbers.h"
#include "ringquell/operating_path.h"

namespace ringquell {

namespace {

constexpr double cut_off = 3;  // standard deviations in a tolerance of a normal distribution
constexpr double below_cut_off = 0.0013498980316300946;  // Φ(−3)

std::uint32_t fnv(const std::string& text) {
    std::uint32_t hash = 2166136261u;
    for (const char c : text) hash = (hash ^ static_cast<unsigned char>(c)) * 16777619u;
    return hash;
}

/// `gate_path.inductance` at position 2 is `gate_path[2].inductance`.
std::string at_position(const std::string& key, int position) {
    const size_t dot = key.find('.');
    return fmt::format("{}[{}]{}", key.substr(0, dot), position,
                       dot == std::string::npos ? "" : key.substr(dot));
}

[[noreturn]] void refuse(const Tolerance& tolerance, const std::string& text) {
    throw InputError(tolerance.place, "spread." + tolerance.key, text);
}

}  // namespace

bool is_position_number(const std::string& key, bool& one_position) {
    const auto parts = split_key(key, {});
    one_position = parts.front().index.has_value();
    return is_position_key(parts.front().name);
}

VaryingNumber varying_number(Case& in, const std::string& key, int position) {
    VaryingNumber out;
    if (key.ends_with(".bead")) {
        const auto parts = split_key(key, {});
        out.curve = true;
        if (parts.size() == 2 && (parts[0].name == "gate_path" || parts[0].name == "kelvin_path")) {
            const int only = parts[0].index.value_or(position);
            for (int k = 1; k <= in.n(); ++k) {
                if (only != 0 && only != k) continue;
                Position& p = in.positions[static_cast<size_t>(k) - 1];
                const bool gate = parts[0].name == "gate_path";
                if (!gate && !p.kelvin_path) continue;
                auto& bead = gate ? p.gate_path.bead : p.kelvin_path->bead;
                if (!bead) continue;
                for (BeadSection& s : bead->sections) {
                    out.values.push_back(&s.resistance_ohm);
                    out.values.push_back(&s.inductance_h);
                }
            }
        }
        if (out.values.empty()) throw InputError({}, key, "this case has no such bead");
        return out;
    }
    Number number = find_number(in, position == 0 ? key : at_position(key, position));
    out.values = std::move(number.values);
    out.may_be_negative = number.may_be_negative;
    return out;
}

SampleSpace::SampleSpace(Case input) : input_(std::move(input)) {
    std::map<std::uint32_t, std::string> streams;
    std::map<std::string, std::vector<size_t>> by_name;  // draws of a key and how it varies
    Case scratch = input_;
    for (size_t t = 0; t < input_.spread.size(); ++t) {
        const Tolerance& tolerance = input_.spread[t];
        if (tolerance.key.starts_with("require."))
            refuse(tolerance, "is what is asked, not a part that varies");
        bool one_position = false;
        bool position_number = false;
        try {
            position_number = is_position_number(tolerance.key, one_position);
            varying_number(scratch, tolerance.key, 0);
        } catch (const InputError& error) {
            const std::string what = error.what();
            const std::string prefix = tolerance.key + ": ";
            refuse(tolerance, what.starts_with(prefix) ? what.substr(prefix.size()) : what);
        }
        const bool by_position = tolerance.vary == Vary::position;
        if (by_position && !position_number)
            refuse(tolerance, "found `vary: position`, but all positions share this; expected `vary: batch`");
        const std::string name = tolerance.key + "/" + vary_names[static_cast<size_t>(tolerance.vary)];
        if (by_name.contains(name))
            refuse(tolerance,
                   "has two tolerances that vary alike; expected one for `position` and one for `batch`");
        std::uint32_t stream = fnv(name);
        while (!streams.emplace(stream, name).second) ++stream;
        auto& mine = by_name[name];
        for (int k = 1; k <= (by_position && !one_position ? input_.n() : 1); ++k) {
            const int position = by_position && !one_position ? k : 0;
            if (position != 0) {
                try {
                    varying_number(scratch, tolerance.key, position);
                } catch (const InputError&) {
                    continue;  // what an override adds at one position others have not
                }
            }
            mine.push_back(draws_.size());
            draws_.push_back({t, position, stream, -1});
        }
    }
    if (draws_.empty())
        throw InputError({input_.file}, "spread",
                         "found no tolerance, expected `spread: typical` or tolerances of your own");
    // Correlations: the parent is the draw of the other key at the same position.
    for (Draw& draw : draws_) {
        const Tolerance& tolerance = input_.spread[draw.tolerance];
        if (!tolerance.correlation) continue;
        const auto other =
            by_name.find(tolerance.correlation->with + "/" + vary_names[static_cast<size_t>(tolerance.vary)]);
        if (other == by_name.end())
            refuse(tolerance,
                   fmt::format("is correlated with `{}`, which has no tolerance with `vary: {}`",
                               tolerance.correlation->with, vary_names[static_cast<size_t>(tolerance.vary)]));
        for (const size_t k : other->second)
            if (draws_[k].position == draw.position) draw.parent = static_cast<int>(k);
        if (draw.parent < 0)
            refuse(tolerance, fmt::format("is correlated with `{}`, which position {} has not",
                                          tolerance.correlation->with, draw.position));
    }
    std::vector<int> state(draws_.size(), 0);  // 1: on the way, 2: placed
    for (size_t k = 0; k < draws_.size(); ++k) {
        std::vector<size_t> chain;
        for (int at = static_cast<int>(k); at >= 0 && state[static_cast<size_t>(at)] != 2;
             at = draws_[static_cast<size_t>(at)].parent) {
            const auto i = static_cast<size_t>(at);
            if (state[i] == 1)
                refuse(input_.spread[draws_[i].tolerance],
                       "is correlated with itself by way of others; expected no circle");
            state[i] = 1;
            chain.push_back(i);
        }
        for (auto i = chain.rbegin(); i != chain.rend(); ++i) {
            order_.push_back(*i);
            state[*i] = 2;
        }
    }
    check_signs();
}

std::string SampleSpace::label(const Draw& draw) const {
    const std::string& key = tolerance(draw).key;
    return draw.position == 0 ? key : at_position(key, draw.position);
}

void SampleSpace::check_signs() const {
    SampledCase sampled(*this);
    std::map<const double*, double> lowest;
    for (const auto& target : sampled.targets())
        lowest.try_emplace(target.value, *target.value).first->second -= target.down;
    std::vector<bool> any(input_.spread.size(), false);
    Case scratch = input_;
    for (const auto& target : sampled.targets()) {
        const size_t t = draws_[target.draw].tolerance;
        any[t] = any[t] || target.up > 0;
        if (lowest.at(target.value) > 0 || varying_number(scratch, input_.spread[t].key, 0).may_be_negative)
            continue;
        if (target.down == 0) continue;
        refuse(input_.spread[t], fmt::format("reaches down to {:.6g} from a nominal {:.6g}; expected a "
                                             "tolerance that leaves the value above zero",
                                             lowest.at(target.value), *target.value));
    }
    for (size_t t = 0; t < any.size(); ++t)
        if (!any[t])
            refuse(input_.spread[t],
                   "is zero, and a share of zero is nothing; expected a tolerance with a unit");
}

void SampleSpace::uniforms(std::uint64_t seed, std::uint64_t sample, std::uint32_t attempt,
                           double* out) const {
    std::vector<double> normal;
    for (const size_t k : order_) {
        const Draw& draw = draws_[k];
        out[k] =
            uniform_number({seed, sample, attempt, draw.stream, static_cast<std::uint32_t>(draw.position)});
        if (draw.parent < 0) continue;
        if (normal.empty()) normal.assign(draws_.size(), std::nan(""));
        double& parent = normal[static_cast<size_t>(draw.parent)];
        if (std::isnan(parent)) parent = normal_quantile(out[draw.parent]);
        const double r = tolerance(draw).correlation->coefficient;
        normal[k] = r * parent + std::sqrt(1 - r * r) * normal_quantile(out[k]);
        out[k] = std::clamp(normal_probability(normal[k]), 0x1p-53, 1 - 0x1p-53);
    }
}

// ---- a case with the values of a sample -------------------------------------------------------------------

SampledCase::SampledCase(const SampleSpace& space) : input_(space.input()) {
    input_.spread.clear();
    // A key of a device at one position gives that point's devices entries of their own: all of that first,
    // so that pointers stay.
    for (const Draw& draw : space.draws()) varying_number(input_, space.tolerance(draw).key, draw.position);
    std::map<double*, double> distinct;
    for (size_t k = 0; k < space.draws().size(); ++k) {
        const Draw& draw = space.draws()[k];
        const Tolerance& tolerance = space.tolerance(draw);
        for (double* value : varying_number(input_, tolerance.key, draw.position).values) {
            distinct[value] = *value;
            double amount = tolerance.relative ? tolerance.amount * std::abs(*value) : tolerance.amount;
            double down = amount;
            if (tolerance.at_least > amount) {
                constexpr double always_left = 0.1;
                amount = *value == 0 ? 0 : tolerance.at_least;
                down = std::min(amount, (1 - always_left) * std::abs(*value));
            }
            targets_.push_back({value, amount, down, k, tolerance.distribution == Distribution::normal});
        }
    }
    nominal_.assign(distinct.begin(), distinct.end());
}

void SampledCase::set(const double* uniforms) {
    for (const auto& [value, nominal] : nominal_) *value = nominal;
    size_t last = static_cast<size_t>(-1);
    double t = 0;  // in [−1, 1]
    for (const Target& target : targets_) {
        if (target.draw != last) {
            last = target.draw;
            const double u = uniforms[target.draw];
            t = target.normal ? normal_quantile(below_cut_off + u * (1 - 2 * below_cut_off)) / cut_off
                              : 2 * u - 1;
            t = std::clamp(t, -1.0, 1.0);
        }
        *target.value += (t >= 0 ? target.up : target.down) * t;
    }
    limit_tables();
}

void SampledCase::limit_tables() {
    const auto limit = [](Die& die) {
        auto* table = std::get_if<CapacitanceTable>(&die.capacitance);
        if (!table || (table->ciss_factor == 1 && table->coss_factor == 1 && table->crss_factor == 1)) return;
        constexpr double within = 1 - 1e-9;
        for (const auto& row : table->rows)
            if (row.crss_f > 0)
                table->crss_factor = std::min(
                    table->crss_factor,
                    within * std::min(row.ciss_f * table->ciss_factor, row.coss_f * table->coss_factor) /
                        row.crss_f);
    };
    for (Position& p : input_.positions) {
        limit(p.device.mosfet);
        limit(p.device.jfet);
    }
    for (Point& point : input_.operation.points)
        for (Device& device : point.devices) {
            limit(device.mosfet);
            limit(device.jfet);
        }
}

void SampledCase::remember_zeros() {
    zero_.clear();
    for (const auto& [value, nominal] : nominal_) zero_.push_back(*value == 0);
}

bool SampledCase::same_zeros() const {
    for (size_t i = 0; i < nominal_.size(); ++i)
        if ((*nominal_[i].first == 0) != zero_[i]) return false;
    return true;
}

// ---- couplings --------------------------------------------------------------------------------------------

CouplingLimits::CouplingLimits(const Case& input) {
    std::map<std::string, size_t> names;
    const auto segments = [](const InductanceName& name) {
        const CoupledInductance* inductance = coupled_inductance(name.name);
        return inductance && inductance->counts == Counts::segments;
    };
    const auto positional = [&](const InductanceName& name) {
        const CoupledInductance* inductance = coupled_inductance(name.name);
        return segments(name) || (inductance && counts_positions(*inductance, input.driver));
    };
    const double n = input.n();
    for (const Coupling& c : input.couplings) {
        mutuals_ = mutuals_ || c.mutual_h.has_value();
        const size_t a = names.try_emplace(c.first.name, names.size()).first->second;
        const size_t b = names.try_emplace(c.second.name, names.size()).first->second;
        rows_.emplace_back(a, b);
        // How many partners one inductance of the row may have by this coupling.
        const bool pairwise = !c.first.index && !c.second.index && positional(c.first) &&
                              positional(c.second) && segments(c.first) == segments(c.second);
        weights_.emplace_back(pairwise || c.second.index || !positional(c.second) ? 1 : n,
                              pairwise || c.first.index || !positional(c.first) ? 1 : n);
    }
    names_ = names.size();
}

bool CouplingLimits::possible(const Case& sample) const {
    if (rows_.empty()) return true;
    if (!mutuals_) {
        // Diagonally dominant, so positive definite (Gershgorin); else the network's own check decides.
        std::vector<double> sums(names_, 0.0);
        for (size_t c = 0; c < rows_.size(); ++c) {
            const double k = std::abs(*sample.couplings[c].coefficient);
            sums[rows_[c].first] += k * weights_[c].first;
            sums[rows_[c].second] += k * weights_[c].second;
        }
        if (std::all_of(sums.begin(), sums.end(), [](double s) { return s < 0.99; })) return true;
    }
    OperatingPoint point;
    point.devices.resize(1);
    for (const Position& p : sample.positions)
        if (p.leg) point.leg_capacitance_f.assign(sample.positions.size(), 1e-9);
    point.devices[0].mosfet = {1, 1, 1e-9, 1e-9, 1e-9, 0};
    point.devices[0].jfet = point.devices[0].mosfet;
    point.devices[0].gate_resistance_ohm = point.devices[0].jfet_gate_resistance_ohm = 1;
    for (const Edge edge : {Edge::turn_on, Edge::turn_off}) {
        point.edge = edge;
        try {
            build_network(sample, point);
        } catch (const InputError& error) {
            if (error.key().starts_with("couplings[")) return false;
            return true;  // whatever else is wrong is said where the sample is judged
        }
    }
    return true;
}

// ---- the default set --------------------------------------------------------------------------------------

std::vector<Tolerance> typical_spread(const Case& input) {
    std::vector<Tolerance> out;
    Case scratch = input;
    const auto add = [&](const std::string& key, double amount, bool relative, Vary vary,
                         double at_least = 0) {
        const auto number = varying_number(scratch, key, 0);
        if (relative &&
            std::all_of(number.values.begin(), number.values.end(), [](const double* v) { return *v == 0; }))
            return;
        Tolerance t;
        t.key = key;
        t.amount = amount;
        t.relative = relative;
        t.at_least = at_least;
        t.vary = vary;
        out.push_back(std::move(t));
    };
    const auto both = [&](const std::string& key, double batch, double position, bool relative) {
        add(key, batch, relative, Vary::batch);
        add(key, position, relative, Vary::position);
    };
    bool beads[2] = {false, false};
    for (const Position& p : input.positions) {
        beads[0] = beads[0] || p.gate_path.bead;
        beads[1] = beads[1] || p.kelvin().bead;
    }
    for (const std::string& key : number_keys(input)) {
        const auto ends = [&](const char* end) { return key.ends_with(end); };
        if (key.starts_with("device.")) {
            if (ends(".channel.threshold") || ends(".channel.threshold_shift")) both(key, 0.8, 0.2, false);
            if (ends(".channel.transconductance") || ends(".channel.gain") || ends(".channel.gain_factor"))
                both(key, 0.15, 0.10, true);
            if (ends(".capacitance.cgs") || ends(".capacitance.ciss_factor")) both(key, 0.08, 0.03, true);
            if (ends(".capacitance.cds") || ends(".capacitance.coss_factor")) both(key, 0.15, 0.04, true);
            if (ends(".capacitance.cgd") || ends(".capacitance.crss_factor")) both(key, 0.30, 0.10, true);
            if (ends("gate_resistance")) both(key, 0.25, 0.10, true);
        }
        if (key == "driver.pull_up_resistance" || key == "driver.pull_down_resistance")
            add(key, 0.40, true, Vary::batch);
        if (key.starts_with("couplings[") && ends(".coefficient")) add(key, 0.1, false, Vary::batch);
        const bool layout = find_number(scratch, key).dimension == Dimension::inductance &&
                            key.find(".bead.") == std::string::npos && !key.starts_with("couplings[") &&
                            !key.starts_with("common_mode_choke") && !key.starts_with("power_loop.load");
        bool one_position = false;
        if (layout)
            add(key, 0.15, true, is_position_number(key, one_position) ? Vary::position : Vary::batch, 1e-9);
    }
    if (beads[0]) both("gate_path.bead", 0.25, 0.10, true);
    if (beads[1]) both("kelvin_path.bead", 0.25, 0.10, true);
    return out;
}

}  // namespace ringquell
