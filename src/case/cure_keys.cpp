#include "case/cure_keys.h"

#include <algorithm>

#include "case/key.h"
#include "ringquell/numbers.h"

namespace ringquell::internal {

namespace {

/// `*` is any number of any characters.
bool globs(std::string_view pattern, std::string_view text) {
    const size_t star = pattern.find('*');
    if (star == std::string_view::npos) return pattern == text;
    if (!text.starts_with(pattern.substr(0, star))) return false;
    const std::string_view rest = pattern.substr(star + 1);
    for (size_t i = star; i <= text.size(); ++i)
        if (globs(rest, text.substr(i))) return true;
    return false;
}

/// A number that has a place on the board: no value of a die, nothing of the operation.
bool of_board(const std::string& key) {
    if (key.starts_with("device."))
        return key.starts_with("device.package.") || key == "device.gate_resistance" ||
               key == "device.jfet.gate_resistance" || key.starts_with("device.bonds.");
    return !key.starts_with("couplings") && !key.starts_with("operation") && !key.starts_with("require") &&
           key.find("complementary") == std::string::npos && !key.starts_with("power_loop.load") &&
           key.find(".bead.") == std::string::npos;
}

std::string without_index(const std::string& key) {
    const size_t open = key.find('['), close = key.find(']');
    const size_t dot = key.find('.');
    if (open == std::string::npos || close == std::string::npos || dot < open) return key;
    return key.substr(0, open) + key.substr(close + 1);
}

}  // namespace

bool matches(std::string_view pattern, std::string_view key) {
    if (pattern.starts_with("package.")) return matches("device." + std::string(pattern), key);
    if (globs(pattern, key)) return true;
    for (size_t dot = key.find('.'); dot != std::string_view::npos; dot = key.find('.', dot + 1))
        if (globs(pattern, key.substr(0, dot))) return true;
    return false;
}

const std::vector<OfferedKey>& offered_keys() {
    using enum Dimension;
    static const std::vector<OfferedKey> keys{
        {"gate_path.resistor", resistance},
        {"gate_path.resistor.turn_on", resistance},
        {"gate_path.resistor.turn_off", resistance},
        {"gate_path.diode.resistor", resistance},
        {"gate_path.bead", resistance},
        {"kelvin_path.resistor", resistance},
        {"kelvin_path.bead", resistance},
        {"snubber.capacitance", capacitance},
        {"snubber.resistance", resistance},
        {"gate_shunt.capacitance", capacitance},
        {"gate_shunt.resistance", resistance},
        {"common_mode_choke.inductance", inductance},
        {"driver.pull_up_resistance", resistance},
        {"driver.pull_down_resistance", resistance},
    };
    return keys;
}

std::vector<std::string> cure_keys(const Case& input) {
    std::vector<std::string> out;
    for (const OfferedKey& offered : offered_keys()) out.emplace_back(offered.key);
    for (const std::string& key : number_keys(input))
        if (of_board(key) && std::find(out.begin(), out.end(), key) == out.end()) out.push_back(key);
    return out;
}

std::optional<Dimension> cure_dimension(const Case& input, const std::string& key) {
    for (const OfferedKey& offered : offered_keys())
        if (key == offered.key) return offered.dimension;
    if (!of_board(without_index(key))) return std::nullopt;
    try {
        return find_number(input, key).dimension;
    } catch (const InputError&) {
        return std::nullopt;
    }
}

double effort_of(const CureRules& rules, std::string_view key, CureEffort usual) {
    for (const auto& [pattern, effort] : rules.price) {
        const bool of_a_kind =
            std::find(std::begin(effort_names), std::end(effort_names), pattern) != std::end(effort_names);
        if (!of_a_kind && matches(pattern, key)) return effort;
    }
    const auto found = rules.price.find(effort_names[static_cast<size_t>(usual)]);
    return found != rules.price.end() ? found->second : usual_effort[static_cast<size_t>(usual)];
}

}  // namespace ringquell::internal
