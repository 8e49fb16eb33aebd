// Measured rings beside the modes of the model, in words and as JSON.
#include <fmt/format.h>

#include "report/parts.h"
#include "report/values.h"

namespace ringquell::internal {

std::string ringing(const Mode& mode) {
    return fmt::format("{}, damping ratio {}, {}", frequency(mode.ringing_frequency_hz()),
                       damping(mode.damping_ratio()), pace(mode));
}

std::string measured_lines(const CheckResult& result) {
    std::string out;
    for (const MeasuredMode& m : result.measured) {
        out += fmt::format("Measured at \"{}\": {}; ", m.ring.at, ringing(m.seen));
        if (m.nearest)
            out +=
                fmt::format("nearest there: {} mode, {}\n", kind_name(m.nearest->kind), ringing(*m.nearest));
        else
            out += result.points[m.point].modes.complete_list ? "nothing oscillates there\n"
                                                              : "not all modes were sought there\n";
    }
    return out;
}

Json measured_value(const CheckResult& result) {
    Json out = Json::array();
    for (const MeasuredMode& m : result.measured) {
        Json one{{"at", m.ring.at},
                 {"edge", edge_name(result.points[m.point].point.edge)},
                 {"ringing_frequency_hz", m.seen.ringing_frequency_hz()},
                 {"natural_frequency_hz", m.seen.natural_frequency_hz()},
                 {"damping_ratio", m.seen.damping_ratio()}};
        add_pace(one, m.seen);
        one["nearest"] = m.nearest ? mode_value(*m.nearest) : Json();
        out.push_back(std::move(one));
    }
    return out;
}

}  // namespace ringquell::internal
