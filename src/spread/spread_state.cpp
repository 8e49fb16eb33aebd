#include "spread/spread_state.h"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "numerics/order_statistics.h"
#include "ringquell/error.h"
#include "ringquell/version.h"

namespace ringquell::internal {

SpreadState::SpreadState(size_t draws) : cells_(draws * groups * bins) {}

void SpreadState::add(const SampleOutcome& outcome, const double* uniforms, const Requirement& require) {
    const int group = static_cast<int>(done % groups);
    const std::int64_t number = done++;
    if (outcome.passes) ++passed_;
    const bool judged = outcome.status == SampleOutcome::Status::judged;
    if (outcome.status == SampleOutcome::Status::no_point) ++no_point_;
    if (outcome.status == SampleOutcome::Status::not_trusted) ++not_trusted_;
    if (!judged && reason_.empty()) reason_ = outcome.reason;
    if (outcome.on_reference_path) ++one_by_one_;
    const double damping = outcome.damping_ratio;
    if (judged && !outcome.grows && !(damping < require.worst_damping)) {
        ++kept_;
        if (number < samples_for_worst) ++kept_of_first_;
    }
    if (!judged || std::isnan(damping)) return;
    if (damping < worst_damping_) {
        worst_damping_ = damping;
        worst_sample = number;
    }
    ++histogram_[static_cast<int>(std::floor(damping / resolution))];
    ++in_histogram_;
    Group& g = groups_[static_cast<size_t>(group)];
    ++g.count;
    g.sum += damping;
    g.squares += damping * damping;
    const size_t draws = cells_.size() / (groups * bins);
    for (size_t k = 0; k < draws; ++k) {
        Cell& c = cell(k, group, std::min(bins - 1, static_cast<int>(uniforms[k] * bins)));
        ++c.count;
        c.sum += damping;
    }
}

/// First-order share by analysis of variance over bins of the draw: the variance between the bins' means less
/// what scatter within the bins gives them by chance, over the whole. Unbiased but for the bins' width.
double SpreadState::share(size_t draw, int first_group, int last_group) const {
    double count = 0, sum = 0, squares = 0;
    for (int g = first_group; g < last_group; ++g) {
        const Group& group = groups_[static_cast<size_t>(g)];
        count += static_cast<double>(group.count);
        sum += group.sum;
        squares += group.squares;
    }
    if (count < 2 * bins) return 0;
    const double mean = sum / count, total = squares - count * mean * mean;
    if (!(total > 0)) return 0;
    double between = 0;
    int used = 0;
    for (int b = 0; b < bins; ++b) {
        double n = 0, s = 0;
        for (int g = first_group; g < last_group; ++g) {
            n += static_cast<double>(cell(draw, g, b).count);
            s += cell(draw, g, b).sum;
        }
        if (n == 0) continue;
        ++used;
        between += n * (s / n - mean) * (s / n - mean);
    }
    const double within = (total - between) / (count - used);
    return (between - (used - 1) * within) / total;
}

void SpreadState::fill(SpreadResult& out, const SampleSpace& space) const {
    constexpr double confidence = 0.95;
    out.samples = done;
    out.passed = passed_;
    out.kept = kept_;
    out.first = std::min(done, samples_for_worst);
    out.kept_of_first = kept_of_first_;
    out.samples_needed = wilks_samples(out.require.pass_share, confidence, 1);
    out.no_point = no_point_;
    out.not_trusted = not_trusted_;
    out.reason = reason_;
    out.one_by_one = one_by_one_;
    out.lower_bound_95 = share_lower_bound(done, passed_, confidence);
    out.kept_lower_bound_95 = share_lower_bound(done, kept_, confidence);
    if (worst_sample >= 0) out.worst_sample = worst_sample;
    const auto at_rank = [this](std::int64_t rank) {  // from 1; lower edge of its bin
        std::int64_t passed = 0;
        for (const auto& [bin, count] : histogram_) {
            passed += count;
            if (passed >= rank) return bin * resolution;
        }
        return std::nan("");
    };
    for (const double p : {0.001, 0.01, 0.05, 0.5, 0.95}) {
        if (in_histogram_ == 0) break;
        SpreadQuantile q;
        q.p = p;
        q.damping_ratio =
            at_rank(std::max<std::int64_t>(
                1, static_cast<std::int64_t>(std::ceil(p * static_cast<double>(in_histogram_))))) +
            0.5 * resolution;
        if (const auto rank = quantile_lower_rank(in_histogram_, p, confidence)) q.at_least = at_rank(*rank);
        if (const auto rank = quantile_upper_rank(in_histogram_, p, confidence))
            q.at_most = at_rank(*rank) + resolution;
        out.quantiles.push_back(q);
    }
    // A tolerance's share is the sum over its draws, which are independent of each other.
    const auto& tolerances = space.input().spread;
    std::vector<double> whole(tolerances.size(), 0.0);
    std::vector<std::array<double, groups>> parts(tolerances.size(), std::array<double, groups>{});
    for (size_t k = 0; k < space.draws().size(); ++k) {
        const size_t t = space.draws()[k].tolerance;
        whole[t] += share(k, 0, groups);
        for (int g = 0; g < groups; ++g) parts[t][static_cast<size_t>(g)] += share(k, g, g + 1);
    }
    for (size_t t = 0; t < tolerances.size(); ++t) {
        double mean = 0, squares = 0;
        for (const double s : parts[t]) mean += s / groups;
        for (const double s : parts[t]) squares += (s - mean) * (s - mean);
        out.matters.push_back(
            {tolerances[t].key, tolerances[t].vary, whole[t], std::sqrt(squares / (groups - 1) / groups)});
    }
    std::stable_sort(out.matters.begin(), out.matters.end(),
                     [](const SpreadShare& a, const SpreadShare& b) { return a.share > b.share; });
}

std::string SpreadState::text(std::uint64_t case_hash, std::uint64_t seed) const {
    nlohmann::ordered_json out{{"ringquell", version},
                               {"checkpoint", 2},
                               {"case_hash", case_hash},
                               {"seed", seed},
                               {"done", done},
                               {"passed", passed_},
                               {"kept", kept_},
                               {"kept_of_first", kept_of_first_},
                               {"no_point", no_point_},
                               {"not_trusted", not_trusted_},
                               {"one_by_one", one_by_one_},
                               {"worst_sample", worst_sample},
                               {"worst_damping", worst_damping_},
                               {"reason", reason_},
                               {"in_histogram", in_histogram_}};
    for (const auto& [bin, count] : histogram_) out["histogram"].push_back({bin, count});
    for (const Group& g : groups_) out["groups"].push_back({g.count, g.sum, g.squares});
    for (const Cell& c : cells_) out["cells"].push_back({c.count, c.sum});
    return out.dump() + "\n";
}

SpreadState SpreadState::read(const std::string& text, size_t draws, std::uint64_t case_hash,
                              std::uint64_t seed) {
    SpreadState out(draws);
    const auto refuse = [](const std::string& what) { throw InputError({}, "--resume", what); };
    try {
        const auto in = nlohmann::json::parse(text);
        if (in.at("ringquell") != version || in.at("checkpoint") != 2)
            refuse("is a checkpoint of another version; expected one of this version");
        if (in.at("case_hash") != case_hash)
            refuse(
                "is a checkpoint of another case; expected the case, settings included, that it was begun "
                "with");
        if (in.at("seed") != seed) refuse("is a checkpoint of another seed");
        if (in.at("cells").size() != out.cells_.size()) refuse("is a checkpoint of other tolerances");
        out.done = in.at("done");
        out.passed_ = in.at("passed");
        out.kept_ = in.at("kept");
        out.kept_of_first_ = in.at("kept_of_first");
        out.no_point_ = in.at("no_point");
        out.not_trusted_ = in.at("not_trusted");
        out.one_by_one_ = in.at("one_by_one");
        out.worst_sample = in.at("worst_sample");
        out.worst_damping_ = in.at("worst_damping");
        out.reason_ = in.at("reason");
        out.in_histogram_ = in.at("in_histogram");
        if (in.contains("histogram"))
            for (const auto& bin : in.at("histogram")) out.histogram_[bin.at(0)] = bin.at(1);
        for (size_t g = 0; g < groups; ++g) {
            const auto& group = in.at("groups").at(g);
            out.groups_[g] = {group.at(0), group.at(1), group.at(2)};
        }
        for (size_t k = 0; k < out.cells_.size(); ++k) {
            const auto& c = in.at("cells").at(k);
            out.cells_[k] = {c.at(0), c.at(1)};
        }
    } catch (const nlohmann::json::exception&) {
        refuse("is no checkpoint of `spread`");
    }
    return out;
}

}  // namespace ringquell::internal
