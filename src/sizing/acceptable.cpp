#include "ringquell/acceptable.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "devices/gate_current.h"
#include "modes/probe.h"
#include "modes/sensitivity.h"
#include "network/reducer.h"
#include "sizing/boundary_pencil.h"
#include "sizing/uneven_bounds.h"
#include "sizing/window_search.h"

namespace ringquell {

using namespace internal;

const char* bound_name(Bound bound) {
    static constexpr std::array names{"damping", "band", "growth", "share", "limit"};
    return names[static_cast<size_t>(bound)];
}

namespace {

/// The network of a point with another gate resistor at every position, and those resistors.
struct Fitted {
    Network network;
    std::vector<size_t> resistors;
};
Fitted fitted(const Case& input, const OperatingPoint& point, Block block, double ohm) {
    Fitted out{build_network(input, point, {block, true}), {}};
    out.resistors = gate_resistor_elements(out.network, input, point.edge);
    for (const size_t i : out.resistors) out.network.elements[i].value = ohm;
    return out;
}

/// dζ/dr when all gate resistors of the edge move together.
double gate_resistor_slope(const Case& input, const OperatingPoint& point, double value, const Mode& mode) {
    const Fitted f = fitted(input, point, Block::whole, value);
    const EigenProbe pair = probe(f.network, mode.eigenvalue);
    std::complex<double> slope = 0;
    for (const size_t k : f.resistors) slope += derivative(pair, f.network.elements[k]);
    return damping_change(pair.eigenvalue, slope);
}

/// One edge's windows, point by point.
class Windows {
  public:
    Windows(ModeSolver& solver, const std::vector<OperatingPoint>& points, Edge edge, Effort effort)
        : solver_(solver),
          input_(solver.input()),
          points_(points),
          changed_(input_),
          uneven_(solver, points, edge, effort, out_) {
        out_.key = gate_resistor_element(input_, edge);
        out_.windows = {{0, limit(), Bound::limit, Bound::limit, {}, {}}};
        out_.complete = true;
    }

    Acceptable run(Edge edge) {
        if (input_.n() == 1) return std::move(out_);  // no differential modes
        for (size_t index = 0; index < points_.size() && !out_.windows.empty(); ++index) {
            const OperatingPoint& point = points_[index];
            if (point.edge != edge || !point.judged || seen(point)) continue;
            constexpr double narrow_ohm = 1e-6;
            narrow(out_, search_at(index), narrow_ohm);
        }
        return std::move(out_);
    }

  private:
    double limit() const { return input_.require.gate_resistance_limit_ohm; }
    Block block(const OperatingPoint& point) const {
        return solver_.alike(point) ? Block::differential : Block::whole;
    }

    void not_complete(const std::string& why) {
        out_.complete = false;
        if (out_.why_not_complete.empty()) out_.why_not_complete = why;
    }

    /// Was an equal network searched before? Networks are told apart by their values: a proof that a point
    /// adds nothing.
    bool seen(const OperatingPoint& point) {
        std::vector<double> values =
            Reducer::element_values(build_network(input_, point, {block(point), true}));
        values.push_back(point.gate_current_estimated ? 1 : 0);  // moves alike with any other resistor?
        if (std::find(seen_.begin(), seen_.end(), values) != seen_.end()) return true;
        seen_.push_back(std::move(values));
        return false;
    }

    /// The point as it is with this resistor fitted: the bias of a bead moves with it.
    OperatingPoint biased(const OperatingPoint& point, double ohm) {
        fit_gate_resistor(changed_, point.edge, ohm);
        return with_own_gate_current(changed_, point);
    }

    Search search_at(size_t index) {
        const OperatingPoint& point = points_[index];
        const bool moves = bias_moves_with_resistor(input_, point);
        Search search;
        search.require = &input_.require;
        search.point = point.name;
        search.kinds_move = !solver_.alike(point);
        search.roughness = &roughness_;
        search.modes_at = [this, &point, moves](double ohm) {
            return solver_.with_gate_resistor(moves ? biased(point, ohm) : point, ohm);
        };
        search.uncertainty = [this, &point, moves](double ohm, const Mode& mode) {
            const Fitted f = fitted(input_, moves ? biased(point, ohm) : point, block(point), ohm);
            return probe(f.network, mode.eigenvalue).uncertainty / std::abs(mode.eigenvalue);
        };
        if (moves) {
            not_complete(
                "the bias of a saturating bead moves with the resistor, so values were sampled, each "
                "with its own bias");
            const auto modes_at = search.modes_at;
            search.damping_slope = [this, modes_at](double ohm, const Mode& mode) {
                return slope_by_difference(modes_at, ohm, mode, step_from(ohm));
            };
            return search;
        }
        search.damping_slope = [this, &point](double ohm, const Mode& mode) {
            return gate_resistor_slope(input_, point, ohm, mode);
        };
        if (solver_.alike(point)) {
            search.candidates = alike_candidates(point);
        } else {
            search.candidates = uneven_.candidates(index);
            if (!search.candidates) not_complete(uneven_.why_not(index));
        }
        return search;
    }

    std::optional<std::vector<double>> alike_candidates(const OperatingPoint& point) {
        const Network network = build_network(input_, point, {Block::differential, true});
        size_t element = 0;
        while (network.elements[element].name != out_.key) ++element;
        try {
            std::vector<double> out = boundary_values(network, element, input_.require.differential_damping,
                                                      input_.require, limit(), &cache_);
            if (const auto& passive = input_.require.passive_damping) {
                const auto more =
                    boundary_values(network, element, *passive, input_.require, limit(), &cache_);
                out.insert(out.end(), more.begin(), more.end());
                std::sort(out.begin(), out.end());
            }
            return out;
        } catch (const NumericalError& error) {
            // The values may be such that a pencil of the bounds is singular; then sample.
            not_complete(fmt::format("the eigenvalue problem of the bounds failed at \"{}\": {}", point.name,
                                     error.what()));
            return std::nullopt;
        }
    }

    /// To a value beside, within the limits.
    double step_from(double ohm) const { return 1e-6 * limit() * (ohm < 0.5 * limit() ? 1 : -1); }

    ModeSolver& solver_;
    const Case& input_;
    const std::vector<OperatingPoint>& points_;
    Case changed_;  // with the resistor that is being judged
    Acceptable out_;
    UnevenBounds uneven_;
    BoundaryCache cache_;
    Roughness roughness_;
    std::vector<std::vector<double>> seen_;
};

}  // namespace

Acceptable acceptable_gate_resistance(ModeSolver& solver, const std::vector<OperatingPoint>& points,
                                      Edge edge, Effort effort) {
    return Windows(solver, points, edge, effort).run(edge);
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

}  // namespace ringquell
