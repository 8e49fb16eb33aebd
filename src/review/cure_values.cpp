#include "review/cure_values.h"

#include <cmath>

#include "sizing/e24.h"

namespace ringquell::internal {

double rounded(double value) {
    const double step = std::pow(10.0, std::floor(std::log10(value)) - 2);
    return std::round(value / step) * step;
}

std::string setting_text(double value, Dimension dimension) {
    return engineering(value, dimension, 4);
}

Values series(bool e24, double from, double to) {
    std::vector<double> out;
    for (double v = e24_at_least(from); v <= to * (1 + 1e-12); v = e24_at_least(1.01 * v)) {
        const double lead = v / std::pow(10.0, std::floor(std::log10(v * (1 + 1e-9))));
        const auto is = [&](double x) { return std::abs(lead - x) < 1e-6; };
        if (e24 || is(1) || is(1.5) || is(2.2) || is(3.3) || is(4.7) || is(6.8)) out.push_back(v);
    }
    return out;
}

Values e6_in(double unit, double from, double to) {
    Values out;
    for (const double v : series(false, std::max(from / unit, 1.0), to / unit)) out.push_back(v * unit);
    return out;
}

double octaves(double from, double to) {
    return std::abs(std::log2(to / from));
}

std::string old_text(const Values& old, Dimension dimension) {
    const auto [least, most] = std::minmax_element(old.begin(), old.end());
    if (*most == 0) return "";
    return *least == *most ? setting_text(*least, dimension)
                           : setting_text(*least, dimension) + " to " + setting_text(*most, dimension);
}

bool is_coarse(size_t k) {
    constexpr size_t every = 4;
    return k % every == 0;
}

bool MoveRules::allowed(const std::string& key) const {
    return std::none_of(in_.cure.fixed.begin(), in_.cure.fixed.end(),
                        [&](const std::string& pattern) { return matches(pattern, key); });
}

double MoveRules::end(const std::string& key, double usual, std::optional<double> CureRange::*which) const {
    const auto found = in_.cure.may.find(key);
    return found == in_.cure.may.end() ? usual : (found->second.*which).value_or(usual);
}

double MoveRules::price(const std::string& key, const Values& old, double value, double typical,
                        CureEffort usual) const {
    if (std::any_of(old.begin(), old.end(), [](double o) { return o == 0; }))
        return effort(key, usual == CureEffort::value ? CureEffort::part : usual) + octaves(typical, value);
    double most = 0;
    for (const double o : old) most = std::max(most, octaves(o, value));
    return most == 0 ? 0 : effort(key, usual) + most;
}

}  // namespace ringquell::internal
