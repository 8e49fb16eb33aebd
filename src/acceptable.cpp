#include "ringquell/acceptable.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "boundary_cache.h"
#include "ringquell/state_space.h"
#include "uneven_bounds.h"

namespace ringquell {

namespace {

/// dζ/dr when all gate resistors of the edge move together.
double gate_resistor_slope(const Case& input, const OperatingPoint& point, double value, const Mode& mode) {
    Network network = build_network(input, point, {Block::whole, true});
    std::vector<const Element*> resistors;
    for (Element& e : network.elements)
        if (e.position > 0 && e.name == gate_resistor_element(input, point.edge, e.position - 1)) {
            e.value = value;
            resistors.push_back(&e);
        }
    const EigenProbe pair = probe(network, mode.eigenvalue);
    std::complex<double> slope = 0;
    for (const Element* e : resistors) slope += derivative(pair, *e);
    const std::complex<double> lambda = pair.eigenvalue;
    const double size = std::abs(lambda);
    return -slope.real() / size + lambda.real() * (std::conj(lambda) * slope).real() / (size * size * size);
}

}  // namespace

Acceptable acceptable_gate_resistance(ModeSolver& solver, const std::vector<OperatingPoint>& points,
                                      Edge edge, Effort effort) {
    const Case& input = solver.input();
    const double limit = input.require.gate_resistance_limit_ohm;
    Acceptable out;
    out.key = gate_resistor_element(input, edge);
    out.windows = {{0, limit, Bound::limit, Bound::limit, {}, {}}};
    out.complete = true;
    if (input.n() == 1) return out;  // no differential modes
    std::vector<std::vector<double>>
        seen;  // networks already searched, by their values: a proof that a point adds nothing
    BoundaryCache cache;
    const UnevenBounds uneven(solver, points, edge, effort, out);
    for (size_t index = 0; index < points.size(); ++index) {
        const OperatingPoint& point = points[index];
        if (point.edge != edge || !point.judged) continue;
        const bool alike = solver.alike(point);
        const Network network =
            build_network(input, point, {alike ? Block::differential : Block::whole, true});
        std::vector<double> values = Reducer::element_values(network);
        if (std::find(seen.begin(), seen.end(), values) != seen.end()) continue;
        seen.push_back(std::move(values));
        Search search;
        search.require = &input.require;
        search.point = point.name;
        search.modes_at = [&](double value) { return solver.with_gate_resistor(point, value); };
        if (alike) {
            size_t element = 0;
            while (network.elements[element].name != out.key) ++element;
            try {
                search.candidates = boundary_values(network, element, input.require.differential_damping,
                                                    input.require, limit, &cache);
            } catch (const NumericalError&) {
                // The values may be such that a pencil of the bounds is singular; then sample.
            }
        } else {
            search.kinds_move = true;
            search.candidates = uneven.candidates(index);
        }
        search.damping_slope = [&](double value, const Mode& mode) {
            return gate_resistor_slope(input, point, value, mode);
        };
        // What an earlier point has excluded stays excluded, so only the rest is searched.
        std::vector<Window> left;
        for (const Window& window : out.windows) {
            if (window.high - window.low < 1e-6) continue;
            search.low = window.low;
            search.high = window.high;
            Searched found = search_windows(search, out.evaluations);
            out.complete = out.complete && found.complete;
            for (Window& w : found.windows) {
                if (w.low == window.low) w.low_bound = window.low_bound, w.low_point = window.low_point;
                if (w.high == window.high) w.high_bound = window.high_bound, w.high_point = window.high_point;
                left.push_back(w);
            }
        }
        out.windows = std::move(left);
        if (out.windows.empty()) break;
    }
    return out;
}

void fit_gate_resistor(Case& input, Edge edge, double ohm) {
    for (Position& p : input.positions) {
        if (p.gate_path.diode && p.gate_path.diode->blocks != edge)
            p.gate_path.diode->resistor_ohm = ohm;
        else
            (edge == Edge::turn_on ? p.gate_path.resistor_ohm.turn_on : p.gate_path.resistor_ohm.turn_off) =
                ohm;
    }
}

double e24_at_least(double x) {
    constexpr std::array series{1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
                                3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1};
    constexpr double rounding = 1e-12;
    for (int decade = static_cast<int>(std::floor(std::log10(x)));; ++decade) {
        const double scale = std::pow(10.0, decade);
        for (double value : series) {
            // Written so that 4.7 and 47 are those numbers exactly.
            const double candidate = decade >= 0 ? value * scale : value / std::pow(10.0, -decade);
            if (candidate >= x * (1 - rounding)) return std::round(candidate * 1e6) / 1e6;
        }
    }
}

std::optional<double> preferred_value(const std::vector<Window>& windows) {
    constexpr double margin = 0.30, least_ohm = 1;
    for (const Window& window : windows) {
        const double value = e24_at_least(std::max(least_ohm, (1 + margin) * window.low));
        const double most = window.high_bound == Bound::limit ? window.high : (1 - margin) * window.high;
        if (value <= most) return value;
    }
    return std::nullopt;
}

}  // namespace ringquell
