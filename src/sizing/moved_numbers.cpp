#include "sizing/moved_numbers.h"

#include <algorithm>

#include "devices/gate_current.h"
#include "ringquell/gain_margin.h"
#include "ringquell/judge.h"
#include "ringquell/network.h"

namespace ringquell::internal {

namespace {

/// Does the number change the devices' values at a point, so that the path has to be walked again?
bool changes_path(const std::string& key) {
    return key.starts_with("device") || key.starts_with("operation") ||
           key.find("complementary") != std::string::npos || key.find(".bead") != std::string::npos ||
           key.starts_with("gate_path.resistor") || key.starts_with("junction_temperature");
}

}  // namespace

MovedNumbers::MovedNumbers(const Case& input, const std::vector<std::string>& keys) : trial_(input) {
    trial_.change([&](Case& own) {
        for (const std::string& key : keys) give_points_own_devices(own, key);
        for (const std::string& key : keys) numbers_.push_back(find_number(own, key));
    });
    dimension = numbers_.front().dimension;
    // Any resistance of the gate's circuit may move the bias of a bead.
    path_moves_ = has_saturating_bead(input) || std::any_of(keys.begin(), keys.end(), changes_path);
    now = *numbers_.front().values.front();
    for (const Number& n : numbers_) factors_.push_back(now != 0 ? *n.values.front() / now : 1.0);
    trial_.path();
}

void MovedNumbers::set(double value) {
    tried_ = value;
    if (value == at_) return;
    at_ = std::nan("");  // until the case is whole again
    const auto move = [&](Case&) {
        for (size_t k = 0; k < numbers_.size(); ++k)
            for (double* v : numbers_[k].values) *v = value * factors_[k];
    };
    if (path_moves_)
        trial_.change(move);
    else
        trial_.change_network(move);
    trial_.path();
    at_ = value;
}

bool MovedNumbers::possible(double value) {
    try {
        set(value);
        std::vector<const OperatingPoint*> seen;  // one of each edge and state of the complementary device
        for (const OperatingPoint& point : path().points) {
            if (std::any_of(seen.begin(), seen.end(), [&](const OperatingPoint* p) {
                    return p->edge == point.edge && p->complementary == point.complementary;
                }))
                continue;
            seen.push_back(&point);
            for (const Block block : trial_.alike(point) ? std::vector{Block::common, Block::differential}
                                                         : std::vector{Block::whole})
                build_network(input(), point, {block});
        }
        return true;
    } catch (const InputError&) {
        return false;
    }
}

double MovedNumbers::reach(double start, double end) {
    if (possible(end)) return end;
    constexpr double precision = 1e-9, inside = 1e-3;
    double can = start, cannot = end;
    while (std::abs(cannot - can) > precision * std::abs(end - start)) {
        const double middle = 0.5 * (can + cannot);
        (possible(middle) ? can : cannot) = middle;
    }
    return can + inside * (start - can);
}

std::vector<Mode> MovedNumbers::modes(size_t point, double value) {
    set(value);
    return trial_.modes(path().points[point]).modes;
}

bool MovedNumbers::passes(size_t point, double value) {
    const Requirement& require = input().require;
    const auto found = modes(point, value);
    if (std::any_of(found.begin(), found.end(), [&](const Mode& m) { return misses(m, require); }))
        return false;
    return !require.gain_margin ||
           !grows_with_gain(trial_.solver(), path().points[point], *require.gain_margin);
}

double default_coldest(double now_degc) {
    constexpr double coldest_degc = -40;  // common practice, no source
    return std::min(now_degc, coldest_degc);
}

double default_top(Dimension dimension, double now, const Requirement& require) {
    constexpr double hottest_degc = 175;  // common practice, no source
    if (dimension == Dimension::temperature) return std::max(now, hottest_degc);
    if (now > 0) return 10 * now;
    switch (dimension) {
        case Dimension::inductance:
            return 100e-9;
        case Dimension::capacitance:
            return 10e-9;
        case Dimension::resistance:
            return require.gate_resistance_limit_ohm;
        case Dimension::conductance:
            return 10;
        default:
            return 1;
    }
}

}  // namespace ringquell::internal
