#include "case/tolerances.h"

#include <algorithm>

#include "case/key.h"
#include "ringquell/numbers.h"

namespace ringquell::internal {

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

}  // namespace ringquell::internal
