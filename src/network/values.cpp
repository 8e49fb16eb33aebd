#include "network/values.h"

#include <algorithm>

#include "network/builder.h"
#include "network/couplings.h"
#include "numerics/units.h"

namespace ringquell::internal {

bool all_off(const OperatingPoint& point) {
    const auto off = [](const DieValues& v) {
        return v.transconductance_s == 0 && v.output_conductance_s == 0;
    };
    return std::all_of(point.devices.begin(), point.devices.end(),
                       [&](const DeviceValues& v) { return off(v.mosfet) && off(v.jfet); });
}

NetworkValues::NetworkValues(const Network& network, const Case& input, const OperatingPoint& built_at,
                             Gains gains)
    : input_(input), edge_(built_at.edge), complementary_(built_at.complementary), absent_(network.absent) {
    terms_.reserve(network.elements.size());
    for (const Element& e : network.elements) {
        const ElementKind kind = e.number_kind();
        const bool gain = kind == ElementKind::transconductance || kind == ElementKind::conductance;
        const bool may_vanish = gain && gains == Gains::may_vanish;
        // A gate resistor whose value is sought is kept even where it would be a wire.
        const bool kept = !stands(kind, e.number());
        const bool moves = e.by_coefficient;
        terms_.push_back({e.rule, e.position, e, kind, !may_vanish && !kept, gain, moves ? e.first : -1,
                          moves ? e.second : -1, e.in_e() ? natural : 1.0});
        has_gain_ = has_gain_ || may_vanish;
    }
}

bool NetworkValues::evaluate(const OperatingPoint& point, double* values) const {
    if (point.edge != edge_ || point.complementary != complementary_) return false;
    if (has_gain_ && all_off(point)) return false;  // another structure, which has none
    for (const AbsentPart& part : absent_)
        if (stands(part.kind, part.rule(input_, point, part.position))) return false;
    for (size_t i = 0; i < terms_.size(); ++i) {
        const Term& t = terms_[i];
        const double number = t.rule(input_, point, t.position);
        if (t.must_stand && !stands(t.kind, number)) return false;
        Stamping stamping = t.stamping;
        if (t.first >= 0) {
            const auto first = static_cast<size_t>(t.first), second = static_cast<size_t>(t.second);
            stamping.scale = coupling_scale(true, {values[first], terms_[first].stamping.scale},
                                            {values[second], terms_[second].stamping.scale});
        }
        values[i] = stamping.value_of(number);
    }
    return true;
}

bool NetworkValues::evaluate_natural(const OperatingPoint& point, double* values) const {
    if (!evaluate(point, values)) return false;
    for (size_t i = 0; i < terms_.size(); ++i) values[i] *= terms_[i].unit;
    return true;
}

bool NetworkValues::gain_vanished(const double* values) const {
    for (size_t i = 0; i < terms_.size(); ++i)
        if (terms_[i].gain && values[i] == 0) return true;
    return false;
}

}  // namespace ringquell::internal
