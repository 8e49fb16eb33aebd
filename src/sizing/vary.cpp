#include "ringquell/vary.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "devices/gate_current.h"
#include "modes/ranking.h"
#include "network/reducer.h"
#include "ringquell/numbers.h"
#include "sizing/boundary_cache.h"
#include "sizing/boundary_pencil.h"
#include "sizing/moved_numbers.h"
#include "sizing/window_search.h"

namespace ringquell {

using namespace internal;

namespace {

bool is_shared(const std::string& key) {
    return key.starts_with("power_loop") || key.starts_with("driver") || key.starts_with("buses");
}

/// What a key is in the network of a point.
struct KeyInNetwork {
    enum class As { element, nothing, unknown };
    /// nothing: it moves no mode of this network; unknown: it does not enter as one element.
    As as = As::unknown;
    size_t element = 0;
};

/// One search for the windows in a range, point by point.
class RangeSearch {
  public:
    RangeSearch(MovedNumbers& numbers, Varied& out) : numbers_(numbers), input_(numbers.input()), out_(out) {}

    /// The windows of [from, to]. Throws InputError where the case cannot be with a value in it.
    void run() {
        out_.acceptable = {};
        out_.acceptable.key = key();
        out_.acceptable.complete = true;
        out_.acceptable.windows = {{out_.from, out_.to, Bound::limit, Bound::limit, {}, {}}};
        numbers_.set(numbers_.now);
        const std::vector<OperatingPoint> points = numbers_.path().points;
        for (const size_t i : distinct_points(points, judged_held)) {
            if (out_.acceptable.windows.empty()) break;
            constexpr double narrow_share = 1e-9;
            narrow(out_.acceptable, search_at(i, points[i].name), narrow_share * (out_.to - out_.from));
        }
    }

  private:
    const std::string& key() const { return out_.keys.front(); }

    Search search_at(size_t point, const std::string& name) {
        Search search;
        search.require = &input_.require;
        search.common_too = out_.common_too;
        search.point = name;
        search.modes_at = [this, point](double value) { return numbers_.modes(point, value); };
        if (out_.keys.size() == 1) {
            try {
                search.candidates = candidates(point);
            } catch (const NumericalError&) {
                // The values may be such that a pencil of the bounds is singular; then sample.
            }
        }
        search.kinds_move = !numbers_.alike(point);
        if (!search.candidates) {
            const double step = 1e-6 * (out_.to - out_.from);
            search.damping_slope = [modes_at = search.modes_at, step](double value, const Mode& mode) {
                return slope_by_difference(modes_at, value, mode, step);
            };
        }
        return search;
    }

    /// All values in [from, to] at which this point's modes can bound a window (in an uneven layout all but a
    /// change of kind); empty optional where the key is not of rank one, as a key of all positions that
    /// differ.
    std::optional<std::vector<double>> candidates(size_t point) {
        // An element that is zero now must be there.
        const double there = out_.to != 0 ? out_.to : out_.from;
        numbers_.set(there);
        const bool alike = numbers_.alike(point);
        std::vector<double> out;
        for (const Block block :
             alike ? std::vector{Block::differential, Block::common} : std::vector{Block::whole}) {
            if (block == Block::differential && input_.n() == 1) continue;
            if (block == Block::common && !out_.common_too) continue;
            const Network network =
                build_network(input_, numbers_.path().points[point], {block, true, false});
            const KeyInNetwork found = find_key(network, block);
            if (found.as == KeyInNetwork::As::nothing) continue;
            if (found.as == KeyInNetwork::As::unknown || !of_rank_one(network, found.element, there))
                return std::nullopt;
            add_bounds(network, found.element, block, out);
        }
        std::sort(out.begin(), out.end());
        return out;
    }

    KeyInNetwork find_key(const Network& network, Block block) const {
        KeyInNetwork out;
        bool seen = false;
        for (size_t i = 0; i < network.elements.size(); ++i) {
            const Element& e = network.elements[i];
            if ((block == Block::whole ? e.label() : e.name) != key()) continue;
            if (seen) return {};
            seen = true;
            out = {KeyInNetwork::As::element, i};
        }
        if (seen) return out;
        // A shared part is in no differential block, and the other edge's part not in this network: it moves
        // nothing here.
        const bool elsewhere = (is_shared(key()) && block == Block::differential) ||
                               key().starts_with("driver.pull_") || key().starts_with("driver.bypass") ||
                               key().starts_with("driver.turn_off_bypass") ||
                               key().find("complementary") != std::string::npos;
        if (elsewhere) out.as = KeyInNetwork::As::nothing;
        return out;
    }

    /// Does moving the key from `there` move this element alone, in proportion or as 1/value?
    bool of_rank_one(const Network& network, size_t element, double there) const {
        const Element& e = network.elements[element];
        if (e.kind == ElementKind::mutual) return false;
        const bool moves_bias = key().starts_with("gate_path") || key().starts_with("kelvin_path") ||
                                key().starts_with("driver") || key().starts_with("device");
        if (e.kind == ElementKind::resistance && has_saturating_bead(input_) && moves_bias) return false;
        const double value = e.reciprocal ? 1 / (e.scale * e.value) : e.value / e.scale;
        const bool as_it_is = std::abs(value - there) <= 1e-12 * std::abs(there);
        if (!as_it_is) return false;
        // A coupling by coefficient moves with its inductances.
        const int number = static_cast<int>(element);
        return std::none_of(network.elements.begin(), network.elements.end(), [number](const Element& m) {
            return m.name.ends_with(".coefficient") && (m.first == number || m.second == number);
        });
    }

    void add_bounds(const Network& network, size_t element, Block block, std::vector<double>& out) {
        constexpr double infinity = std::numeric_limits<double>::infinity();
        const Requirement& require = input_.require;
        std::vector<double> targets;
        if (block != Block::common) targets.push_back(require.differential_damping);
        if (block != Block::common && require.passive_damping) targets.push_back(*require.passive_damping);
        if (block != Block::differential && out_.common_too)
            targets.push_back(require.common_damping.value_or(0));
        const Element& e = network.elements[element];
        for (const double target : targets)
            for (const double v : boundary_values(network, element, target, require, infinity, &cache_)) {
                const double reciprocal = v > 0 ? 1 / (e.scale * v) : infinity;
                const double of_key = e.reciprocal ? reciprocal : v / e.scale;
                if (of_key > out_.from && of_key < out_.to) out.push_back(of_key);
            }
    }

    MovedNumbers& numbers_;
    const Case& input_;
    Varied& out_;
    BoundaryCache cache_;
};

}  // namespace

Varied acceptable_values(const Case& input, const std::vector<std::string>& keys,
                         const VaryOptions& options) {
    MovedNumbers numbers(input, keys);
    Varied out;
    out.keys = keys;
    out.dimension = numbers.dimension;
    out.now = numbers.now;
    out.common_too = options.common_too.value_or(std::any_of(keys.begin(), keys.end(), is_shared));
    const bool coefficient = keys.front().ends_with(".coefficient");
    const bool mutual = keys.front().starts_with("couplings[") && !coefficient;  // of either sign, too
    const double top = default_top(out.dimension, mutual ? std::abs(out.now) : out.now, input.require);
    out.from = options.from.value_or(coefficient                               ? -0.99
                                     : mutual                                  ? -top
                                     : out.dimension == Dimension::temperature ? default_coldest(out.now)
                                                                               : 0);
    out.to = options.to.value_or(coefficient ? 0.99 : top);
    if (!(out.from < out.to))
        throw InputError({}, "--from", "the range is empty; expected --from below --to");
    // What the network cannot be ends the range: seen at the ends, as a rule, else on the way.
    const double start = std::clamp(out.now, out.from, out.to);
    if (!numbers.possible(start)) {
        out.acceptable.key = keys.front();
        out.acceptable.complete = true;
        return out;
    }
    out.from = numbers.reach(start, out.from);
    out.to = numbers.reach(start, out.to);
    constexpr int most_ends = 8;
    for (int ends = 0;; ++ends) {
        try {
            RangeSearch(numbers, out).run();
            return out;
        } catch (const InputError&) {
            const double at = numbers.tried();
            if (ends == most_ends || at == start) throw;
            (at > start ? out.to : out.from) = numbers.reach(start, at);
        }
    }
}

std::vector<std::string> layout_keys(const Case& input) {
    std::vector<std::string> out;
    for (const std::string& key : number_keys(input)) {
        const bool inductance = key.ends_with("inductance") || key.ends_with(".esl") ||
                                (key.starts_with("device.package.") && !key.ends_with("_resistance"));
        const bool layout = key.starts_with("gate_path.inductance") || key.starts_with("kelvin_path.") ||
                            key.starts_with("drain_path.") || key.starts_with("source_path.") ||
                            key.starts_with("buses.") || key.starts_with("snubber.") ||
                            key.starts_with("driver.") || key.starts_with("power_loop.") ||
                            key.starts_with("device.package.") || key.starts_with("leg.");
        if (inductance && layout && key.find("load") == std::string::npos &&
            key.find("bead") == std::string::npos && key.find('[') == std::string::npos)
            out.push_back(key);
    }
    return out;
}

}  // namespace ringquell
