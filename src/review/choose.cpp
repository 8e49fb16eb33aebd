#include "ringquell/choose.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "review/edge_sizing.h"
#include "review/rank_options.h"
#include "ringquell/acceptable.h"
#include "ringquell/check.h"
#include "sizing/e24.h"
#include "sizing/trial.h"

namespace ringquell {

using namespace internal;

namespace {

void set_bead(Case& input, const std::optional<Bead>& bead) {
    for (Position& p : input.positions) p.gate_path.bead = bead;
}

/// All beads on one case.
class Chooser {
  public:
    Chooser(const Case& input, const ChooseOptions& options) : input_(input), options_(options) {}

    Choice run() {
        out_.title = input_.title;
        out_.switching_frequency_hz = options_.switching_frequency_hz;
        for (const BeadCandidate& candidate : candidates()) add(candidate);
        for (const Edge edge : {Edge::turn_on, Edge::turn_off}) {
            std::vector<ChosenOption> of_edge;
            for (const ChosenOption& o : found_)
                if (o.edge == edge) of_edge.push_back(o);
            rank_options(of_edge, options_, out_.filtered_out);
            out_.options.insert(out_.options.end(), of_edge.begin(), of_edge.end());
        }
        return std::move(out_);
    }

  private:
    /// "No bead", what is fitted, and what is offered; a bead that is there twice once.
    std::vector<BeadCandidate> candidates() {
        std::vector<BeadCandidate> out{{"no bead", std::nullopt}};
        const auto& fitted = input_.positions.front().gate_path.bead;
        if (fitted) {
            fitted_ = 1;
            out.push_back({fitted->name.empty() ? "the fitted bead" : fitted->name, fitted});
        }
        for (const BeadCandidate& c : options_.beads) {
            const auto known = std::find_if(out.begin(), out.end(), [&](const BeadCandidate& o) {
                return c.bead && o.bead && o.name == c.name && *o.bead == *c.bead;
            });
            if (known == out.end()) out.push_back(c);
        }
        return out;
    }

    bool wanted(Edge edge) const { return edge == Edge::turn_on ? options_.turn_on : options_.turn_off; }

    void add(const BeadCandidate& candidate) {
        const size_t number = number_++;
        Trial trial(input_);
        // Overrides may fit different beads; the fitted option keeps them.
        const bool fitted = number == fitted_;
        if (!fitted) trial.change([&](Case& own) { set_bead(own, candidate.bead); });
        const std::vector<OperatingPoint> points = trial.path().points;
        ++out_.sizings;
        std::vector<ChosenOption> edges;
        for (const Edge edge : {Edge::turn_on, Edge::turn_off}) {
            const auto of_edge = [&](const OperatingPoint& p) { return p.edge == edge && p.judged; };
            if (!wanted(edge) || std::none_of(points.begin(), points.end(), of_edge)) continue;
            ChosenOption o;
            o.bead = candidate.name;
            o.fitted = fitted || (number == 0 && fitted_ == 0);
            o.edge = edge;
            size(o, trial);
            edges.push_back(std::move(o));
        }
        // Now each edge has its preferred resistor: what the edges cost, and what one does to the other's
        // gate.
        for (const ChosenOption& o : edges)
            if (o.preferred_ohm) trial.fit_gate_resistor(o.edge, *o.preferred_ohm);
        const Case& changed = trial.input();
        const SwitchingEstimate on =
            estimate_switching(changed, points, Edge::turn_on, options_.switching_frequency_hz);
        const auto induced = induced_gate(changed, points, on);
        for (ChosenOption& o : edges) {
            if (o.preferred_ohm) {
                o.cost = o.edge == Edge::turn_on ? on
                                                 : estimate_switching(changed, points, Edge::turn_off,
                                                                      options_.switching_frequency_hz);
                o.induced = induced;
            }
            found_.push_back(std::move(o));
        }
    }

    void size(ChosenOption& o, Trial& with_bead) const {
        const Acceptable acceptable =
            acceptable_gate_resistance(with_bead.solver(), with_bead.path().points, o.edge);
        o.complete = acceptable.complete;
        if (!acceptable.windows.empty()) o.minimum_ohm = acceptable.windows.front().low;
        const auto first = preferred_value(acceptable.windows);
        if (!first) return;
        const Preferred preferred =
            judged_preferred(with_bead.input(), o.edge, acceptable.windows, *first, has_margin);
        o.preferred_ohm = preferred.ohm;
        o.passes = preferred.judged.passes;
        o.damping_ratio = preferred.judged.differential_damping;
        if (o.damping_ratio) o.natural_frequency_hz = preferred.judged.differential_hz;
        o.common_damping_ratio = preferred.judged.common_damping;
        for (const Window& w : acceptable.windows) {
            if (*o.preferred_ohm < w.low || *o.preferred_ohm > w.high) continue;
            o.window_low_ohm = w.low;
            o.window_high_ohm = w.high;
            double margin = std::numeric_limits<double>::infinity();
            if (w.low_bound != Bound::limit && w.low > 0) margin = *o.preferred_ohm / w.low - 1;
            if (w.high_bound != Bound::limit) margin = std::min(margin, w.high / *o.preferred_ohm - 1);
            if (std::isfinite(margin)) o.margin = margin;
        }
    }

    const Case& input_;
    const ChooseOptions& options_;
    Choice out_;
    std::vector<ChosenOption> found_;
    size_t number_ = 0, fitted_ = 0;
};

}  // namespace

Choice choose(const Case& input, const ChooseOptions& options) {
    return Chooser(input, options).run();
}

}  // namespace ringquell
