#include "devices/find_point.h"

#include <fmt/format.h>

#include <algorithm>

#include "base/nearest.h"

namespace ringquell::internal {

namespace {

/// `; did you mean ...?` where a name is near, else the first and the last point of each stage.
std::string nearest_or_all(const std::string& found, const std::vector<OperatingPoint>& points) {
    std::vector<std::string> names, ends;
    names.reserve(points.size());
    for (size_t i = 0; i < points.size(); ++i) {
        names.push_back(points[i].name);
        const bool first = i == 0 || points[i].stage.empty() || points[i].stage != points[i - 1].stage;
        const bool last =
            i + 1 == points.size() || points[i].stage.empty() || points[i].stage != points[i + 1].stage;
        if (first)
            ends.push_back(names.back());
        else if (last)
            ends.back() += "` to `" + names.back();
    }
    std::string out = "; valid here: ";
    for (size_t k = 0; k < ends.size(); ++k) out += (k ? ", `" : "`") + ends[k] + "`";
    return suggestion_or(found, names, out);
}

}  // namespace

size_t find_point(const std::vector<OperatingPoint>& points, const std::string& name, const Place& place,
                  const std::string& key) {
    const auto found =
        std::find_if(points.begin(), points.end(), [&](const OperatingPoint& p) { return p.name == name; });
    if (found == points.end())
        throw InputError(
            place, key,
            fmt::format("`{}` is no point of this case's path", name) + nearest_or_all(name, points));
    return static_cast<size_t>(found - points.begin());
}

}  // namespace ringquell::internal
