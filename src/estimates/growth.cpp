#include "ringquell/growth.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "estimates/stage_times.h"
#include "modes/ranking.h"

namespace ringquell {

using namespace internal;

double growth_exponent(const std::vector<double>& at_s,
                       const std::vector<std::optional<double>>& sigma_per_s) {
    double running = 0, most = 0;
    const auto pass = [&](double exponent) {
        running = std::max(0.0, running + exponent);
        most = std::max(most, running);
    };
    const auto along = [&](double before, double here, double time) {
        if (before * here >= 0) return pass(0.5 * (before + here) * time);
        const double zero = before / (before - here) * time;  // where the line crosses zero
        pass(0.5 * before * zero);
        pass(0.5 * here * (time - zero));
    };
    for (size_t k = 0; k < at_s.size(); ++k) {
        if (!sigma_per_s[k])
            running = 0;
        else if (k > 0 && sigma_per_s[k - 1])
            along(*sigma_per_s[k - 1], *sigma_per_s[k], at_s[k] - at_s[k - 1]);
        else if (k == 0 && at_s[0] > 0) {
            const double first = *sigma_per_s[0];
            double begin = first;
            if (at_s.size() > 1 && sigma_per_s[1])
                begin = std::min(first, first - (*sigma_per_s[1] - first) / (at_s[1] - at_s[0]) * at_s[0]);
            along(begin, first, at_s[0]);
        }
    }
    return most;
}

double Growth::factor() const {
    return std::exp(exponent);
}
double Growth::least() const {
    return std::exp(least_of_exponent * exponent);
}
double Growth::most() const {
    return std::exp(most_of_exponent * exponent);
}

bool Stage::grows_if_held() const {
    return least && grows(least->mode);
}

bool all_pass(const std::vector<Passage>& passages) {
    return std::all_of(passages.begin(), passages.end(), [](const Passage& p) { return p.passes(); });
}

const char* grade_name(GrowthGrade grade) {
    static constexpr std::array names{"unseen", "may_be_seen", "may_reach_volts"};
    return names[static_cast<size_t>(grade)];
}

const char* grade_words(GrowthGrade grade) {
    static constexpr std::array words{
        "a clean edge passes it unseen: a double pulse at nominal speed will not show it",
        "a clean edge may show it",
        "can reach volts where something kicks it: 0.1 to 17 V were integrated; not known without "
        "integration"};
    return words[static_cast<size_t>(grade)];
}

namespace {

/// Factors of a whole edge (common practice, no source).
constexpr double seen_from = 3, volts_from = 30;

/// Points of the walk bear a number behind their stage's name; explicit ones bear their name alone.
bool is_walked(const OperatingPoint& p) {
    return p.name.size() > p.stage.size() + p.variant.size();
}

class StageMaker {
  public:
    StageMaker(const Case& input, const std::vector<OperatingPoint>& points,
               const std::vector<const Modes*>& modes, const Families& families)
        : input_(input), points_(points), modes_(modes), families_(families) {}

    Passages run() {
        for (size_t first = 0; first < points_.size();) {
            size_t end = first + 1;
            while (end < points_.size() && points_[end].stage == points_[first].stage &&
                   points_[end].variant == points_[first].variant)
                ++end;
            if (is_walked(points_[first])) add_stage(first, end);
            first = end;
        }
        for (const Edge edge : {Edge::turn_on, Edge::turn_off}) add_passages(edge);
        for (Stage& s : out_.stages)
            for (const Passage& p : out_.passages)
                if (std::find(p.stages.begin(), p.stages.end(), s.name) != p.stages.end() && !p.passes())
                    s.passes = false;
        return std::move(out_);
    }

  private:
    const SwitchingEstimate& estimate(Edge edge) {
        if (!estimates_.contains(edge)) estimates_.emplace(edge, estimate_switching(input_, points_, edge));
        return estimates_.at(edge);
    }

    void add_stage(size_t first, size_t end) {
        const OperatingPoint& p = points_[first];
        Stage stage;
        stage.name = p.stage + p.variant;
        stage.stage = p.stage;
        stage.edge = p.edge;
        stage.variant = p.variant;
        stage.held = p.judged;
        for (size_t i = first; i < end; ++i) {
            stage.points.push_back(i);
            for (const Mode& m : modes_[i]->modes) {
                if (stage.held && misses(m, input_.require)) stage.passes = false;
                if (!grows(m) && !rings_in_band(m, input_.require)) continue;
                if (!stage.least || m.damping_ratio() < stage.least->mode.damping_ratio())
                    stage.least = {i, m};
            }
        }
        const auto times = times_of(stage, stage.why, {});
        if (times) {
            stage.time_s = times->total_s;
            stage.time_estimated = times->estimated;
        }
        stage.growth = growth_in(stage, times, &stage.family);
        if (!stage.growth && std::find(out_.notes.begin(), out_.notes.end(), stage.why) == out_.notes.end())
            out_.notes.push_back(stage.why);
        out_.stages.push_back(std::move(stage));
    }

    std::optional<StageTimes> times_of(const Stage& stage, std::string& why, std::optional<double> given_s) {
        std::vector<OperatingPoint> points;
        for (const size_t i : stage.points) points.push_back(points_[i]);
        return stage_times(input_, points, estimate(stage.edge), why, given_s);
    }

    /// Growth rates of one family along a stage.
    std::vector<std::optional<double>> rates(const Stage& stage, const Family& family) const {
        std::vector<std::optional<double>> out;
        for (const size_t i : stage.points)
            out.push_back(family.eigenvalues[i] ? std::optional(family.eigenvalues[i]->real())
                                                : std::nullopt);
        return out;
    }

    /// Of each point the greatest, whatever mode has it.
    std::vector<std::optional<double>> greatest_rates(const Stage& stage) const {
        std::vector<std::optional<double>> out;
        for (const size_t i : stage.points) {
            double most = 0;
            for (const Mode& m : modes_[i]->modes)
                if (grows(m)) most = std::max(most, m.eigenvalue.real());
            out.emplace_back(most);
        }
        return out;
    }

    std::optional<Growth> growth_in(const Stage& stage, const std::optional<StageTimes>& times,
                                    std::string* family) const {
        if (!stage.grows_if_held()) return Growth{};
        if (!times) return std::nullopt;
        Growth out;
        if (families_.families.empty()) {
            out.exponent = growth_exponent(times->at_s, greatest_rates(stage));
            return out;
        }
        for (const Family& f : families_.families) {
            const double exponent = growth_exponent(times->at_s, rates(stage, f));
            if (exponent <= out.exponent) continue;
            out.exponent = exponent;
            if (family != nullptr) *family = f.name;
        }
        return out;
    }

    void add_passages(Edge edge) {
        std::vector<std::string> variants;
        for (const Stage& s : out_.stages)
            if (s.edge == edge && std::find(variants.begin(), variants.end(), s.variant) == variants.end())
                variants.push_back(s.variant);
        for (const std::string& variant : variants) {
            const bool ramped = edge == Edge::turn_off && input_.operation.soft_turn_off;
            for (const bool soft : {false, true})
                if (!soft || ramped) add_passage(edge, variant, soft);
            add_edge(edge, variant);
        }
    }

    void add_passage(Edge edge, const std::string& variant, bool soft) {
        Passage out{edge, variant, soft, {}, Growth{}, input_.require.passing_growth};
        for (const Stage& s : out_.stages) {
            if (s.edge != edge || s.variant != variant || s.held) continue;
            out.stages.push_back(s.name);
            std::optional<Growth> growth = s.growth;
            if (soft && s.stage.ends_with(" current")) {
                std::string why;
                growth = growth_in(s, times_of(s, why, input_.operation.soft_turn_off->ramp_s), nullptr);
            }
            if (!growth)
                out.growth.reset();
            else if (out.growth)
                out.growth->exponent += growth->exponent;
        }
        if (!out.stages.empty()) out_.passages.push_back(std::move(out));
    }

    /// The product over all stages, held or not.
    void add_edge(Edge edge, const std::string& variant) {
        EdgeGrowth found{{}, {}, variant};
        bool any = false;
        for (const Stage& s : out_.stages) {
            if (s.edge != edge || s.variant != variant || !s.grows_if_held()) continue;
            any = true;
            if (s.growth) found.growth.exponent += s.growth->exponent;
        }
        if (any)
            found.grade = found.growth.factor() < seen_from     ? GrowthGrade::unseen
                          : found.growth.factor() <= volts_from ? GrowthGrade::may_be_seen
                                                                : GrowthGrade::may_reach_volts;
        auto& worst = out_.edges[edge];
        if (!worst.grade || found.growth.exponent > worst.growth.exponent) worst = found;
    }

    const Case& input_;
    const std::vector<OperatingPoint>& points_;
    const std::vector<const Modes*>& modes_;
    const Families& families_;
    std::map<Edge, SwitchingEstimate> estimates_;
    Passages out_;
};

}  // namespace

Passages pass_stages(const Case& input, const std::vector<OperatingPoint>& points,
                     const std::vector<const Modes*>& modes, const Families& families) {
    return StageMaker(input, points, modes, families).run();
}

}  // namespace ringquell
