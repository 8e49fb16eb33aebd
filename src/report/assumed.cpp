// What a verdict owes to assumed values, in words and as JSON.
#include <fmt/format.h>

#include "report/parts.h"
#include "report/values.h"

namespace ringquell::internal {

namespace {

/// "0.012 over its tolerance", "0.004 for a tenth of it"
std::string change_words(const AssumedValue& value) {
    return fmt::format("{:.2g} {}", *value.damping_change,
                       value.over_tolerance ? "over its tolerance" : "for a change of a tenth");
}

}  // namespace

std::string assumed_line(const CheckResult& result) {
    const auto& assumed = result.assumed;
    if (assumed.empty()) return {};
    std::string out = fmt::format("Assumed: the verdict rests on {} that nobody has stated or measured",
                                  counted(static_cast<std::int64_t>(assumed.size()), "value"));
    if (!assumed.front().damping_change) return out + ".\n";
    out += fmt::format("; {} matters most: the worst damping ratio changes by {}", assumed.front().key,
                       change_words(assumed.front()));
    if (assumed.size() > 1 && assumed[1].damping_change && *assumed[1].damping_change > 0)
        out += fmt::format(", then {} ({})", assumed[1].key, change_words(assumed[1]));
    return out + ".\n";
}

Json assumed_value(const CheckResult& result) {
    Json values = Json::array();
    for (const AssumedValue& a : result.assumed)
        values.push_back({{"key", a.key},
                          {"damping_change", or_null(a.damping_change)},
                          {"over", a.over_tolerance ? "tolerance" : "10 %"}});
    return {{"count", result.assumed.size()}, {"values", values}};
}

}  // namespace ringquell::internal
