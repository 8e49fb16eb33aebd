#include "case/tolerances.h"

#include <algorithm>

#include "case/key.h"
#include "ringquell/numbers.h"

namespace ringquell::internal {

namespace {

/// The bead that `gate_path.bead` or `kelvin_path.bead` names; null where the position has none.
template <class P>
auto* bead_of(P& position, const std::string& path) {
    if (path == "gate_path") return position.gate_path.bead ? &*position.gate_path.bead : nullptr;
    return position.kelvin_path && position.kelvin_path->bead ? &*position.kelvin_path->bead : nullptr;
}

template <class Value, class C>
VaryingNumberOf<Value> curve_of(C& in, const std::string& key, int position) {
    VaryingNumberOf<Value> out;
    out.curve = true;
    const auto parts = split_key(key, {});
    if (parts.size() == 2 && (parts[0].name == "gate_path" || parts[0].name == "kelvin_path")) {
        const int only = parts[0].index.value_or(position);
        for (int k = 1; k <= in.n(); ++k) {
            if (only != 0 && only != k) continue;
            auto* bead = bead_of(in.positions[static_cast<size_t>(k) - 1], parts[0].name);
            if (bead == nullptr) continue;
            for (auto& section : bead->sections) {
                out.values.push_back(&section.resistance_ohm);
                out.values.push_back(&section.inductance_h);
            }
        }
    }
    if (out.values.empty()) throw InputError({}, key, "this case has no such bead");
    return out;
}

template <class Value, class C>
VaryingNumberOf<Value> varying(C& in, const std::string& key, int position) {
    if (key.ends_with(".bead")) return curve_of<Value>(in, key, position);
    auto number = find_number(in, position == 0 ? key : at_position(key, position));
    return {std::move(number.values), number.may_be_negative, false};
}

}  // namespace

VaryingNumber varying_number(Case& in, const std::string& key, int position) {
    return varying<double>(in, key, position);
}

ConstVaryingNumber varying_number(const Case& in, const std::string& key, int position) {
    return varying<const double>(in, key, position);
}

std::vector<Tolerance> typical_spread(const Case& input) {
    std::vector<Tolerance> out;
    const auto add = [&](const std::string& key, double amount, bool relative, Vary vary,
                         double at_least = 0) {
        const auto number = varying_number(input, key, 0);
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
    const bool low_threshold = input.positions.front().device.kind == DeviceKind::hemt;
    bool beads[2] = {false, false};
    for (const Position& p : input.positions) {
        beads[0] = beads[0] || p.gate_path.bead;
        beads[1] = beads[1] || p.kelvin().bead;
    }
    for (const std::string& key : number_keys(input)) {
        const auto ends = [&](const char* end) { return key.ends_with(end); };
        if (key.starts_with("device.")) {
            if (ends(".channel.threshold") || ends(".channel.threshold_shift"))
                both(key, low_threshold ? 0.4 : 0.8, low_threshold ? 0.1 : 0.2, false);
            if (ends(".channel.transconductance") || ends(".channel.gain") || ends(".channel.gain_factor"))
                both(key, 0.15, 0.10, true);
            if (ends(".capacitance.cgs") || ends(".capacitance.ciss_factor")) both(key, 0.08, 0.03, true);
            if (ends(".capacitance.cds") || ends(".capacitance.coss_factor")) both(key, 0.15, 0.04, true);
            if (ends(".capacitance.cgd") || ends(".capacitance.crss_factor")) both(key, 0.30, 0.10, true);
            if (ends("gate_resistance") && !key.starts_with("device.package.")) both(key, 0.25, 0.10, true);
        }
        if (key == "driver.pull_up_resistance" || key == "driver.pull_down_resistance")
            add(key, 0.40, true, Vary::batch);
        if (key.starts_with("couplings[") && ends(".coefficient")) add(key, 0.1, false, Vary::batch);
        const bool layout = find_number(input, key).dimension == Dimension::inductance &&
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

}  // namespace ringquell::internal
