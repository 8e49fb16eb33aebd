#include <fmt/format.h>

#include "report/values.h"
#include "ringquell/report.h"

namespace ringquell {

using namespace internal;

namespace {

std::string limit_text(Bound bound, const std::string& point) {
    if (bound == Bound::limit) return "";
    return fmt::format("{}{}", bound_name(bound), point.empty() ? "" : fmt::format(" at \"{}\"", point));
}

std::string windows_text(const Varied& v) {
    if (v.acceptable.windows.empty()) return "none";
    std::string out;
    for (const Window& w : v.acceptable.windows) {
        const auto value = [&](double x) { return engineering(x, v.dimension, 4); };
        std::string range = w.low_bound == Bound::limit && w.high_bound == Bound::limit
                                ? fmt::format("all from {} to {}", value(w.low), value(w.high))
                            : w.high_bound == Bound::limit ? fmt::format("from {}", value(w.low))
                            : w.low_bound == Bound::limit
                                ? fmt::format("up to {}", value(w.high))
                                : fmt::format("{} to {}", value(w.low), value(w.high));
        out += (out.empty() ? "" : "; ") + range;
    }
    return out;
}

std::string limits_text(const Varied& v) {
    std::string out;
    for (const Window& w : v.acceptable.windows)
        for (const std::string& text :
             {limit_text(w.low_bound, w.low_point), limit_text(w.high_bound, w.high_point)})
            if (!text.empty()) out += (out.empty() ? "" : "; ") + text;
    return out.empty() ? (v.acceptable.windows.empty() ? "no value in the range" : "nothing in the range")
                       : out;
}

}  // namespace

std::string vary_text(const Varied& v) {
    std::string out = fmt::format("{} ({} to {} searched; judged: {} modes)\n", fmt::join(v.keys, " with "),
                                  engineering(v.from, v.dimension, 4), engineering(v.to, v.dimension, 4),
                                  v.common_too ? "differential and common" : "differential");
    out += fmt::format("  now {}; acceptable: {}\n  limited by: {}\n", engineering(v.now, v.dimension, 4),
                       windows_text(v), limits_text(v));
    if (v.keys.size() > 1) out += "  The other keys move in proportion to the first.\n";
    if (!v.acceptable.complete)
        out += fmt::format(
            "  Found by adaptive sampling ({} evaluations): a narrow window may have been missed.\n",
            v.acceptable.evaluations);
    return out;
}

Json internal::vary_value(const Varied& v) {
    Json windows = Json::array(), bounds = windows;
    for (const Window& w : v.acceptable.windows) {
        windows.push_back({w.low, w.high});
        bounds.push_back({bound_name(w.low_bound), bound_name(w.high_bound)});
    }
    Json out{{"ringquell", version}, {"verb", "size"}, {"key", v.keys.front()}};
    if (v.keys.size() > 1) out["keys"] = v.keys;
    out.update({{"now", v.now},
                {"searched", {v.from, v.to}},
                {"judged", v.common_too ? "differential and common" : "differential"},
                {"acceptable", windows},
                {"bounded_by", bounds},
                {"complete", v.acceptable.complete}});
    return out;
}

std::string budget_text(const std::vector<Varied>& budget) {
    std::string out = fmt::format("{:<32} {:>10}  {:<34} {}\n", "path", "now", "allowed, the rest as it is",
                                  "what limits it");
    for (const Varied& v : budget)
        out += fmt::format("{:<32} {:>10}  {:<34} {}\n", v.keys.front(), engineering(v.now, v.dimension, 3),
                           windows_text(v), limits_text(v));
    return out +
           "Each range is for that path alone at every position; two paths at their limits together may "
           "fail.\n";
}

Json internal::budget_value(const std::vector<Varied>& budget) {
    Json rows = Json::array();
    for (const Varied& v : budget) rows.push_back(vary_value(v));
    return {{"ringquell", version}, {"verb", "size"}, {"budget", rows}};
}

std::string vary_json(const Varied& varied) {
    return printed(vary_value(varied));
}

std::string budget_json(const std::vector<Varied>& budget) {
    return printed(budget_value(budget));
}

}  // namespace ringquell
