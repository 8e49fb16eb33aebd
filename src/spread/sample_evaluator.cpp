#include "spread/sample_evaluator.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <numeric>

#include "modes/effort.h"
#include "modes/ranking.h"
#include "numerics/random_numbers.h"
#include "ringquell/gain_margin.h"
#include "ringquell/operating_path.h"

namespace ringquell::internal {

namespace {

SampleOutcome judged_by(const Case& sample, const SampleJudge& judge,
                        const std::function<bool(const OperatingPoint&)>& judges) {
    SampleOutcome out;
    out.on_reference_path = true;
    try {
        const OperatingPath path = operating_path(sample);
        ModeSolver solver(sample);
        for (const size_t i : distinct_points(path.points, judges)) {
            const OperatingPoint& point = path.points[i];
            for (const Mode& mode : solver.solve(point).modes) judge.add(mode, static_cast<int>(i), out);
            if (const auto& gain = judge.require().gain_margin; gain && !out.grows_with_gain)
                out.grows_with_gain = grows_with_gain(solver, point, *gain).has_value();
        }
    } catch (const InputError& error) {
        out.status = SampleOutcome::Status::no_point;
        out.reason = error.what();
    } catch (const NumericalError& error) {
        out.status = SampleOutcome::Status::not_trusted;
        out.reason = error.what();
    }
    judge.finish(out);
    return out;
}

/// A sample that stands for all others where a structure is recorded: every number that varies away from its
/// nominal value, and no two alike that may differ.
void set_recording_values(const SampleSpace& space, SampledCase& sampled, double strength) {
    std::vector<double> u(space.draws().size());
    for (size_t k = 0; k < u.size(); ++k)
        u[k] = 0.5 + strength * (uniform_number({0x7ecu, 0, 0, space.draws()[k].stream,
                                                 static_cast<std::uint32_t>(space.draws()[k].position)}) -
                                 0.5);
    sampled.set(u.data());
}

/// A point whose devices have a gain or output conductance where they have one elsewhere on the path: what a
/// device has there it may have here in another sample. Not at the threshold, where no device of any sample
/// has a gain.
OperatingPoint with_gains_of_path(const OperatingPath& path, size_t index, int n) {
    OperatingPoint point = path.points[index];
    const auto positions = static_cast<size_t>(n);
    if (point.devices.size() < positions) point.devices.resize(positions, point.devices.front());
    for (size_t k = 0; k < positions && !all_off(point); ++k)
        for (const auto field : {&DieValues::transconductance_s, &DieValues::output_conductance_s})
            for (const auto die : {&DeviceValues::mosfet, &DeviceValues::jfet})
                for (const OperatingPoint& other : path.points)
                    if (point.devices[k].*die.*field == 0)
                        point.devices[k].*die.*field = other.device(static_cast<int>(k)).*die.*field;
    return point;
}

}  // namespace

SampleOutcome judge_sample(const Case& sample) {
    return judged_by(sample, SampleJudge(sample.require, sample.n()),
                     [](const OperatingPoint& point) { return point.judged; });
}

SampleEvaluator::SampleEvaluator(const SampleSpace& space, std::optional<Edge> only, bool fast)
    : space_(space), only_(only), judge_(space.input().require, space.input().n()), limits_(space.input()) {
    // What is asked of the gain needs every mode's vector, or every point twice.
    const Requirement& require = space.input().require;
    const bool simple = require.passive_damping || require.gain_margin;
    // Where shift-invert is cheaper than the dense whole network nothing is recorded.
    if (fast && !simple && space.input().n() < sparse_from) record();
}

void SampleEvaluator::record() {
    SampledCase sampled(space_);
    OperatingPath path;
    constexpr double strength = 0.05;
    set_recording_values(space_, sampled, strength);
    try {
        path = operating_path(sampled.input());
    } catch (const InputError&) {
        return;  // the simple path says what is wrong
    }
    try {
        rank_points(sampled.input(), path);
    } catch (const InputError&) {
    } catch (const NumericalError&) {
    }
    std::vector<size_t> hardest_first(path.points.size());
    std::iota(hardest_first.begin(), hardest_first.end(), size_t{0});
    std::sort(hardest_first.begin(), hardest_first.end(),
              [this](size_t a, size_t b) { return rank(static_cast<int>(a)) < rank(static_cast<int>(b)); });
    std::vector<NetworkValues> known;
    for (const size_t index : hardest_first) {
        if (!judges(path.points[index])) continue;
        try {
            record(sampled.input(), with_gains_of_path(path, index, space_.input().n()), known);
        } catch (const InputError&) {
        } catch (const NumericalError&) {
        }
    }
}

/// The structure of a point, unless one that is known has its values.
void SampleEvaluator::record(const Case& sample, const OperatingPoint& point,
                             std::vector<NetworkValues>& known) {
    std::vector<double> values;
    for (size_t m = 0; m < known.size(); ++m) {
        values.resize(structures_[m].network.elements.size());
        if (known[m].evaluate(point, values.data())) return;
    }
    Structure structure;
    structure.network = build_network(sample, point);
    structure.program = packed_program(structure.network, space_.input().n());
    structure.point = point;
    if (structure.program.states == 0) return;
    known.emplace_back(structure.network, sample, point, NetworkValues::Gains::may_vanish);
    structures_.push_back(std::move(structure));
}

void SampleEvaluator::rank_points(const Case& sample, const OperatingPath& path) {
    std::vector<std::pair<double, int>> order;
    ModeSolver solver(sample);
    for (size_t i = 0; i < path.points.size(); ++i) {
        double least = 1;
        if (judges(path.points[i]))
            for (const Mode& m : solver.solve(path.points[i]).modes)
                if (m.kind == ModeKind::differential &&
                    (grows(m) || (m.oscillates() && in_band(m, judge_.require()))))
                    least = std::min(least, m.damping_ratio());
        order.emplace_back(least, static_cast<int>(i));
    }
    std::stable_sort(order.begin(), order.end());
    rank_.assign(order.size(), 0);
    for (size_t k = 0; k < order.size(); ++k)
        rank_[static_cast<size_t>(order[k].second)] = static_cast<int>(k);
}

SampleWorker::SampleWorker(const SampleEvaluator& evaluator)
    : evaluator_(evaluator), sampled_(evaluator.space()) {
    constexpr double strength = 0.05;
    set_recording_values(evaluator.space(), sampled_, strength);
    sampled_.remember_zeros();
    const auto& structures = evaluator.structures();
    rules_.reserve(structures.size());  // the judges refer to them
    size_t most = 0;
    for (const auto& structure : structures) {
        rules_.emplace_back(structure.network, sampled_.input(), structure.point,
                            NetworkValues::Gains::may_vanish);
        judges_.emplace_back(structure.program, rules_.back(), evaluator.judge());
        most = std::max(most, structure.network.elements.size());
    }
    jobs_.resize(structures.size());
    scratch_.resize(most);
}

void SampleWorker::queue(int sample, const OperatingPath& path) {
    std::array<size_t, 16> done{};
    size_t count = 0;
    for (size_t i = 0; i < path.points.size(); ++i) {
        const OperatingPoint& point = path.points[i];
        if (!evaluator_.judges(point)) continue;
        // A walk with fixed values has few different points; one with curves has none alike, so a short
        // memory is enough.
        const auto seen = [&](size_t k) { return same_network(path.points[k], point); };
        if (std::any_of(done.begin(), done.begin() + static_cast<long>(std::min(count, done.size())), seen))
            continue;
        done[count++ % done.size()] = i;
        bool placed = false;
        for (size_t s = 0; s < rules_.size() && !placed; ++s) {
            if (!rules_[s].evaluate_natural(point, scratch_.data())) continue;
            const size_t elements = static_cast<size_t>(evaluator_.structures()[s].program.elements);
            jobs_[s].push_back({sample, static_cast<int>(i), values_.size()});
            values_.insert(values_.end(), scratch_.begin(), scratch_.begin() + static_cast<long>(elements));
            placed = true;
        }
        if (!placed) {
            left_[static_cast<size_t>(sample)] = 1;
            return;
        }
    }
}

/// Sets the case to a sample whose couplings are possible together.
void SampleWorker::draw(int sample, const Source& source, double* uniforms, SampleOutcome& outcome) {
    for (std::uint32_t attempt = 0;; ++attempt) {
        outcome.attempts = attempt + 1;
        if (attempt >= most_attempts || !source(sample, attempt, uniforms)) {
            outcome.status = SampleOutcome::Status::no_point;
            outcome.reason = "the couplings are not possible together";
            return;
        }
        sampled_.set(uniforms);
        if (evaluator_.limits().possible(sampled_.input())) return;
    }
}

void SampleWorker::evaluate(int count, const Source& source, std::vector<double>& uniforms,
                            std::vector<SampleOutcome>& out) {
    const size_t draws = evaluator_.space().draws().size();
    uniforms.resize(static_cast<size_t>(count) * draws);
    out.assign(static_cast<size_t>(count), {});
    left_.assign(static_cast<size_t>(count), 0);
    values_.clear();
    for (auto& jobs : jobs_) jobs.clear();
    for (int k = 0; k < count; ++k) {
        double* u = uniforms.data() + static_cast<size_t>(k) * draws;
        SampleOutcome& outcome = out[static_cast<size_t>(k)];
        draw(k, source, u, outcome);
        if (outcome.status != SampleOutcome::Status::judged) continue;
        if (rules_.empty() || !sampled_.same_zeros()) {
            left_[static_cast<size_t>(k)] = 1;
            continue;
        }
        try {
            queue(k, operating_path(sampled_.input()));
        } catch (const InputError& error) {
            outcome.status = SampleOutcome::Status::no_point;
            outcome.reason = error.what();
            left_[static_cast<size_t>(k)] = 2;  // drop what was queued
        }
    }
    for (size_t s = 0; s < jobs_.size(); ++s) solve(s, out);
    for (int k = 0; k < count; ++k) {
        SampleOutcome& outcome = out[static_cast<size_t>(k)];
        if (left_[static_cast<size_t>(k)] == 1) {
            sampled_.set(uniforms.data() + static_cast<size_t>(k) * draws);
            const std::uint32_t attempts = outcome.attempts;
            outcome = judged_by(sampled_.input(), evaluator_.judge(),
                                [&](const OperatingPoint& point) { return evaluator_.judges(point); });
            outcome.attempts = attempts;
        } else {
            evaluator_.judge().finish(outcome);
        }
    }
}

void SampleWorker::solve(size_t structure, std::vector<SampleOutcome>& out) {
    auto& jobs = jobs_[structure];
    // One point of eight samples at a time: such matrices are most alike.
    std::stable_sort(jobs.begin(), jobs.end(), [this](const Job& a, const Job& b) {
        return evaluator_.rank(a.point) < evaluator_.rank(b.point);
    });
    std::vector<PackJob> some;
    const auto judge_some = [&] {
        if (!some.empty()) judges_[structure].judge(some);
        some.clear();
    };
    for (const Job& job : jobs) {
        const auto sample = static_cast<size_t>(job.sample);
        if (left_[sample] != 0) continue;
        some.push_back({values_.data() + job.values, job.point, &out[sample], &left_[sample]});
        if (some.size() == pack_lanes) judge_some();
    }
    judge_some();
}

}  // namespace ringquell::internal
