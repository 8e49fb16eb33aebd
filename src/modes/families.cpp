#include "ringquell/families.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "modes/effort.h"
#include "modes/mode_links.h"

namespace ringquell {

using namespace internal;

const char* family_change_name(FamilyChange change) {
    static constexpr std::array names{"becomes real", "becomes oscillating", "merges", "crosses", "ends"};
    return names[static_cast<size_t>(change)];
}

namespace {

/// From which earlier point a point is reached, and how to get in between.
struct Step {
    size_t from = 0, to = 0;
    ModesBetween between;          // of a share 0 to 1; empty: another structure, which nothing lies between
    std::optional<size_t> second;  // where a mode that `from` does not lead to may have been seen before
};

/// Families as chains of modes over a tree of steps.
class Chains {
  public:
    Chains(const std::vector<std::vector<ModeVector>>& modes, const Requirement& require)
        : modes_(modes), require_(require), family_of_(modes.size()) {
        for (size_t p = 0; p < modes.size(); ++p) family_of_[p].resize(modes[p].size());
    }

    void begin(size_t point) { name_the_rest(point); }

    void follow(const Step& step) {
        const auto &left = modes_[step.from], &right = modes_[step.to];
        const Links links = step.between
                                ? LinkRefiner(step.between, require_, out_.halvings).link(left, right, {0, 1})
                                : link_modes(left, right, require_);
        if (step.between && links.ambiguous) out_.unsure = true;
        auto& here = family_of_[step.to];
        for (size_t i = 0; i < left.size(); ++i) {
            const auto family = family_of_[step.from][i];
            if (!family) continue;
            const auto j = links.to[i];
            if (!j) {
                if (step.between) event(FamilyChange::ends, *family, *family, step);
                continue;
            }
            if (here[*j]) {
                // Two came together; the one that is named first stays.
                const size_t keeps = std::min(*here[*j], *family), goes = std::max(*here[*j], *family);
                here[*j] = keeps;
                event(FamilyChange::merges, keeps, goes, step);
                continue;
            }
            here[*j] = *family;
            if (left[i].oscillates() && !right[*j].oscillates())
                event(FamilyChange::becomes_real, *family, *family, step);
            if (!left[i].oscillates() && right[*j].oscillates())
                event(FamilyChange::becomes_oscillating, *family, *family, step);
        }
        if (step.between) crossings(step);
        if (step.second) recognise(*step.second, step.to);
        name_the_rest(step.to);
    }

    Families finish() {
        std::vector<bool> shown(found_.size(), false);
        for (size_t p = 0; p < modes_.size(); ++p)
            for (size_t m = 0; m < modes_[p].size(); ++m)
                if (matters(modes_[p][m], require_)) shown[*family_of_[p][m]] = true;
        std::vector<std::string> name(found_.size());
        for (const ModeKind kind : {ModeKind::differential, ModeKind::common}) {
            int number = 0;
            for (size_t f = 0; f < found_.size(); ++f) {
                if (!shown[f] || found_[f].kind != kind) continue;
                name[f] = fmt::format("{} {}", kind_name(kind), ++number);
                Family family{name[f], kind, found_[f].multiplicity, {}};
                family.eigenvalues.resize(modes_.size());
                for (size_t p = 0; p < modes_.size(); ++p)
                    for (size_t m = 0; m < modes_[p].size(); ++m)
                        if (family_of_[p][m] == f) family.eigenvalues[p] = modes_[p][m].eigenvalue;
                out_.families.push_back(std::move(family));
            }
        }
        for (const Found& e : events_) {
            const bool needs_both = e.change == FamilyChange::crosses;
            if (!shown[e.family] || (needs_both && !shown[e.other])) continue;
            const std::string other = e.other == e.family ? std::string()
                                      : shown[e.other]    ? name[e.other]
                                                          : "one not listed";
            out_.events.push_back({e.change, name[e.family], other, e.from, e.to});
        }
        return std::move(out_);
    }

  private:
    struct Begun {
        ModeKind kind;
        int multiplicity;
    };
    struct Found {
        FamilyChange change;
        size_t family, other, from, to;
    };

    void event(FamilyChange change, size_t family, size_t other, const Step& step) {
        events_.push_back({change, family, other, step.from, step.to});
    }

    /// Modes of `to` that have no family yet take those of `from` that are not there.
    void recognise(size_t from, size_t to) {
        const Links links = link_modes(modes_[from], modes_[to], require_);
        auto& here = family_of_[to];
        for (size_t i = 0; i < modes_[from].size(); ++i) {
            const auto family = family_of_[from][i];
            const auto j = links.to[i];
            if (family && j && !here[*j] && std::find(here.begin(), here.end(), family) == here.end())
                here[*j] = family;
        }
    }

    /// Modes that no earlier point leads to begin families, by rising natural frequency.
    void name_the_rest(size_t point) {
        std::vector<size_t> fresh;
        for (size_t m = 0; m < modes_[point].size(); ++m)
            if (!family_of_[point][m]) fresh.push_back(m);
        std::sort(fresh.begin(), fresh.end(), [&](size_t a, size_t b) {
            return std::abs(modes_[point][a].eigenvalue) < std::abs(modes_[point][b].eigenvalue);
        });
        for (const size_t m : fresh) {
            family_of_[point][m] = found_.size();
            found_.push_back({modes_[point][m].kind, modes_[point][m].multiplicity});
        }
    }

    void crossings(const Step& step) {
        struct Both {
            size_t family;
            double before, after;
            ModeKind kind;
        };
        std::vector<Both> both;
        for (size_t j = 0; j < modes_[step.to].size(); ++j) {
            const ModeVector& after = modes_[step.to][j];
            const auto family = family_of_[step.to][j];
            if (!family || !after.oscillates()) continue;
            for (size_t i = 0; i < modes_[step.from].size(); ++i) {
                const ModeVector& before = modes_[step.from][i];
                if (family_of_[step.from][i] != family || !before.oscillates() || before.kind != after.kind)
                    continue;
                if (matters(before, require_) && matters(after, require_))
                    both.push_back({*family, before.eigenvalue.imag(), after.eigenvalue.imag(), after.kind});
            }
        }
        for (size_t a = 0; a < both.size(); ++a)
            for (size_t b = a + 1; b < both.size(); ++b)
                if (both[a].kind == both[b].kind &&
                    (both[a].before - both[b].before) * (both[a].after - both[b].after) < 0)
                    event(FamilyChange::crosses, std::min(both[a].family, both[b].family),
                          std::max(both[a].family, both[b].family), step);
    }

    const std::vector<std::vector<ModeVector>>& modes_;
    const Requirement& require_;
    std::vector<std::vector<std::optional<size_t>>> family_of_;
    std::vector<Begun> found_;
    std::vector<Found> events_;
    Families out_;
};

double between(double a, double b, double share) {
    return a > 0 && b > 0 ? a * std::pow(b / a, share) : std::lerp(a, b, share);
}

DieValues between(const DieValues& a, const DieValues& b, double share) {
    DieValues out = a;
    for (double DieValues::*value :
         {&DieValues::transconductance_s, &DieValues::output_conductance_s, &DieValues::cgs_f,
          &DieValues::cgd_f, &DieValues::cds_f, &DieValues::output_resistance_ohm})
        out.*value = between(a.*value, b.*value, share);
    return out;
}

/// Device values between two points of one stage.
OperatingPoint between(const OperatingPoint& a, const OperatingPoint& b, double share) {
    OperatingPoint out = a;
    for (size_t i = 0; i < out.devices.size(); ++i) {
        out.devices[i].mosfet = between(a.devices[i].mosfet, b.devices[i].mosfet, share);
        out.devices[i].jfet = between(a.devices[i].jfet, b.devices[i].jfet, share);
    }
    out.complementary_capacitance_f =
        between(a.complementary_capacitance_f, b.complementary_capacitance_f, share);
    for (size_t i = 0; i < out.leg_capacitance_f.size(); ++i)
        out.leg_capacitance_f[i] = between(a.leg_capacitance_f[i], b.leg_capacitance_f[i], share);
    out.gate_current_a = std::lerp(a.gate_current_a, b.gate_current_a, share);
    return out;
}

bool same_stage(const OperatingPoint& a, const OperatingPoint& b) {
    return a.stage == b.stage && a.edge == b.edge && a.variant == b.variant &&
           a.complementary == b.complementary && a.devices.size() == b.devices.size();
}

/// How unlike two points are, for joining stages; voltage and current as shares of their largest.
double unlikeness(const OperatingPoint& a, const OperatingPoint& b) {
    const auto share = [](double x, double y) {
        return std::max(x, y) > 0 ? std::abs(x - y) / std::max(x, y) : 0;
    };
    constexpr double small =
        0.01;  // decides where voltage and current do not; another edge has another resistor
    return share(a.vds_v, b.vds_v) + share(a.current_a, b.current_a) +
           small * (a.complementary != b.complementary) + 2 * small * (a.edge != b.edge) +
           small * share(a.junction_temperature_degc, b.junction_temperature_degc) +
           small * (a.variant != b.variant);
}

/// Every point but the first is reached from one before it in this order.
std::vector<Step> tree_of(const Case& input, const std::vector<OperatingPoint>& points, ModeVectors& solver) {
    std::vector<Step> out;
    const auto neighbour = [&](size_t from, size_t to) {
        out.push_back({from,
                       to,
                       [&input, &points, &solver, from, to](double share) {
                           return solver.at(input, between(points[from], points[to], share));
                       },
                       {}});
    };
    for (size_t first = 0; first < points.size();) {
        size_t end = first + 1;
        while (end < points.size() && same_stage(points[first], points[end])) ++end;
        size_t anchor = first;
        if (first > 0) {
            constexpr double infinity = std::numeric_limits<double>::infinity();
            double least = infinity, least_second = infinity;
            size_t from = 0;
            std::optional<size_t> second;
            for (size_t own : {first, end - 1})
                for (size_t p = 0; p < first; ++p)
                    if (const double d = unlikeness(points[p], points[own]); d < least) {
                        least = d;
                        from = p;
                        anchor = own;
                    }
            // The same half bridge on the other edge, where the nearest point is not that.
            for (size_t p = 0; p < first; ++p)
                if (points[p].complementary == points[anchor].complementary &&
                    unlikeness(points[p], points[anchor]) < least_second) {
                    least_second = unlikeness(points[p], points[anchor]);
                    second = p;
                }
            if (second == from) second.reset();
            out.push_back({from, anchor, {}, second});
        }
        for (size_t p = anchor; p + 1 < end; ++p) neighbour(p, p + 1);
        for (size_t p = anchor; p > first; --p) neighbour(p, p - 1);
        first = end;
    }
    return out;
}

}  // namespace

Families follow_path(const Case& input, const std::vector<OperatingPoint>& points) {
    Families out;
    if (points.empty()) return out;
    const auto uneven = [&](const OperatingPoint& p) { return !positions_alike(input, p); };
    if (input.n() > most_followed && std::any_of(points.begin(), points.end(), uneven)) {
        out.not_followed =
            fmt::format("modes are not followed from point to point, because more than {} positions differ",
                        most_followed);
        return out;
    }
    ModeVectors solver;
    std::vector<std::vector<ModeVector>> modes;
    for (size_t p = 0; p < points.size(); ++p) {
        const bool again = p > 0 && same_network(points[p], points[p - 1]);
        if (again)
            modes.push_back(modes.back());
        else
            modes.push_back(solver.at(input, points[p]));
    }
    Chains chains(modes, input.require);
    chains.begin(0);
    for (const Step& step : tree_of(input, points, solver)) chains.follow(step);
    return chains.finish();
}

std::string family_of(const Families& families, size_t point, const Mode& mode) {
    constexpr double equal = 1e-6;  // two solutions of one network
    std::string name;
    double nearest = equal * std::abs(mode.eigenvalue);
    for (const Family& f : families.families) {
        const auto& lambda = f.eigenvalues[point];
        if (!lambda || std::abs(*lambda - mode.eigenvalue) > nearest) continue;
        nearest = std::abs(*lambda - mode.eigenvalue);
        name = f.name;
    }
    return name;
}

}  // namespace ringquell
