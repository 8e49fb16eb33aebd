// What the page says of a mode, element by element.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "page/data.h"

namespace ringquell::internal {

namespace {

constexpr size_t most_elements = 60;
/// Behind the number; without their names, for of 64 positions there are thousands.
constexpr const char* each_columns[] = {"value", "energy_share", "power_share", "damping_per_10_percent",
                                        "passes_at"};

/// Four digits, as the page shows them.
Json rounded(const Json& value) {
    return value.is_number() ? Json(std::stod(fmt::format("{:.4g}", value.get<double>()))) : value;
}

/// What stands in the brackets: `2` of gate_path[2].inductance.
int number_in(const std::string& name) {
    return std::stoi(name.substr(name.find('[') + 1));
}

double number(const Json& element, const char* key) {
    return element.at(key).get<double>();
}

/// Elements in the order of the largest, one entry each with all that its positions have; null where none stands
/// at several.
Json by_element(const Json& elements) {
    std::map<std::string, size_t> rows;
    Json out = Json::array();
    bool any = false;
    for (const Json& element : elements) {
        const std::string full = element.at("name"), name = without_position(full);
        const auto [row, added] = rows.try_emplace(name, out.size());
        if (added)
            out.push_back({{"name", name},
                           {"unit", element.at("unit")},
                           {"energy_share", 0.0},
                           {"power_share", 0.0},
                           {"damping_per_10_percent", 0.0},
                           {"each", Json::array()}});
        Json& sum = out[row->second];
        for (const char* key : {"energy_share", "power_share", "damping_per_10_percent"})
            sum[key] = number(sum, key) + number(element, key);
        Json one = Json::array({full == name ? Json() : Json(number_in(full))});
        for (const char* key : each_columns) one.push_back(rounded(element.at(key)));
        sum["each"].push_back(std::move(one));
        any = any || full != name;
    }
    if (!any) return {};
    const auto size = [](const Json& e) {
        return number(e, "energy_share") + std::abs(number(e, "power_share"));
    };
    std::stable_sort(out.begin(), out.end(), [&](const Json& a, const Json& b) { return size(a) > size(b); });
    for (Json& sum : out)
        std::stable_sort(sum["each"].begin(), sum["each"].end(),
                         [](const Json& a, const Json& b) { return a[0] < b[0]; });
    return out;
}

}  // namespace

Json explained_value(const Explanation& explanation) {
    Json out = explain_value(explanation)["modes"];
    for (Json& mode : out) {
        mode["by_element"] = by_element(mode["elements"]);
        const size_t count = mode["elements"].size();
        while (mode["elements"].size() > most_elements) mode["elements"].erase(mode["elements"].size() - 1);
        mode["elements_left_out"] = count - mode["elements"].size();
    }
    return out;
}

}  // namespace ringquell::internal
