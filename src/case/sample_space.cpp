#include "case/sample_space.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "base/fnv1a.h"
#include "case/enum_names.h"
#include "case/key.h"
#include "case/sampled_case.h"
#include "case/tolerances.h"
#include "numerics/random_numbers.h"

namespace ringquell::internal {

namespace {

[[noreturn]] void refuse(const Tolerance& tolerance, const std::string& text) {
    throw InputError(tolerance.place, "spread." + tolerance.key, text);
}

}  // namespace

SampleSpace::SampleSpace(Case input) : input_(std::move(input)) {
    std::map<std::uint32_t, std::string> streams;
    std::map<std::string, std::vector<size_t>> by_name;  // draws of a key and how it varies
    Case scratch = input_;
    for (size_t t = 0; t < input_.spread.size(); ++t) {
        const Tolerance& tolerance = input_.spread[t];
        if (tolerance.key.starts_with("require."))
            refuse(tolerance, "is what is asked, not a part that varies");
        bool one_position = false;
        bool position_number = false;
        try {
            position_number = is_position_number(tolerance.key, one_position);
            varying_number(scratch, tolerance.key, 0);
        } catch (const InputError& error) {
            const std::string what = error.what();
            const std::string prefix = tolerance.key + ": ";
            refuse(tolerance, what.starts_with(prefix) ? what.substr(prefix.size()) : what);
        }
        const bool by_position = tolerance.vary == Vary::position;
        if (by_position && !position_number)
            refuse(tolerance, "found `vary: position`, but all positions share this; expected `vary: batch`");
        const std::string name = tolerance.key + "/" + vary_names[static_cast<size_t>(tolerance.vary)];
        if (by_name.contains(name))
            refuse(tolerance,
                   "has two tolerances that vary alike; expected one for `position` and one for `batch`");
        std::uint32_t stream = fnv1a_32(name);
        while (!streams.emplace(stream, name).second) ++stream;
        auto& mine = by_name[name];
        for (int k = 1; k <= (by_position && !one_position ? input_.n() : 1); ++k) {
            const int position = by_position && !one_position ? k : 0;
            if (position != 0) {
                try {
                    varying_number(scratch, tolerance.key, position);
                } catch (const InputError&) {
                    continue;  // what an override adds at one position others have not
                }
            }
            mine.push_back(draws_.size());
            draws_.push_back({t, position, stream, -1});
        }
    }
    if (draws_.empty())
        throw InputError({input_.file}, "spread",
                         "found no tolerance, expected `spread: typical` or tolerances of your own");
    // Correlations: the parent is the draw of the other key at the same position.
    for (Draw& draw : draws_) {
        const Tolerance& tolerance = input_.spread[draw.tolerance];
        if (!tolerance.correlation) continue;
        const auto other =
            by_name.find(tolerance.correlation->with + "/" + vary_names[static_cast<size_t>(tolerance.vary)]);
        if (other == by_name.end())
            refuse(tolerance,
                   fmt::format("is correlated with `{}`, which has no tolerance with `vary: {}`",
                               tolerance.correlation->with, vary_names[static_cast<size_t>(tolerance.vary)]));
        for (const size_t k : other->second)
            if (draws_[k].position == draw.position) draw.parent = static_cast<int>(k);
        if (draw.parent < 0)
            refuse(tolerance, fmt::format("is correlated with `{}`, which position {} has not",
                                          tolerance.correlation->with, draw.position));
    }
    std::vector<int> state(draws_.size(), 0);  // 1: on the way, 2: placed
    for (size_t k = 0; k < draws_.size(); ++k) {
        std::vector<size_t> chain;
        for (int at = static_cast<int>(k); at >= 0 && state[static_cast<size_t>(at)] != 2;
             at = draws_[static_cast<size_t>(at)].parent) {
            const auto i = static_cast<size_t>(at);
            if (state[i] == 1)
                refuse(input_.spread[draws_[i].tolerance],
                       "is correlated with itself by way of others; expected no circle");
            state[i] = 1;
            chain.push_back(i);
        }
        for (auto i = chain.rbegin(); i != chain.rend(); ++i) {
            order_.push_back(*i);
            state[*i] = 2;
        }
    }
    check_signs();
}

std::string SampleSpace::label(const Draw& draw) const {
    const std::string& key = tolerance(draw).key;
    return draw.position == 0 ? key : at_position(key, draw.position);
}

void SampleSpace::check_signs() const {
    SampledCase sampled(*this);
    std::map<const double*, double> lowest;
    for (const auto& target : sampled.targets())
        lowest.try_emplace(target.value, *target.value).first->second -= target.down;
    std::vector<bool> any(input_.spread.size(), false);
    Case scratch = input_;
    for (const auto& target : sampled.targets()) {
        const size_t t = draws_[target.draw].tolerance;
        any[t] = any[t] || target.up > 0;
        if (lowest.at(target.value) > 0 || varying_number(scratch, input_.spread[t].key, 0).may_be_negative)
            continue;
        if (target.down == 0) continue;
        refuse(input_.spread[t], fmt::format("reaches down to {:.6g} from a nominal {:.6g}; expected a "
                                             "tolerance that leaves the value above zero",
                                             lowest.at(target.value), *target.value));
    }
    for (size_t t = 0; t < any.size(); ++t)
        if (!any[t])
            refuse(input_.spread[t],
                   "is zero, and a share of zero is nothing; expected a tolerance with a unit");
}

void SampleSpace::uniforms(std::uint64_t seed, std::uint64_t sample, std::uint32_t attempt,
                           double* out) const {
    std::vector<double> normal;
    for (const size_t k : order_) {
        const Draw& draw = draws_[k];
        out[k] =
            uniform_number({seed, sample, attempt, draw.stream, static_cast<std::uint32_t>(draw.position)});
        if (draw.parent < 0) continue;
        if (normal.empty()) normal.assign(draws_.size(), std::nan(""));
        double& parent = normal[static_cast<size_t>(draw.parent)];
        if (std::isnan(parent)) parent = normal_quantile(out[draw.parent]);
        const double r = tolerance(draw).correlation->coefficient;
        normal[k] = r * parent + std::sqrt(1 - r * r) * normal_quantile(out[k]);
        out[k] = std::clamp(normal_probability(normal[k]), 0x1p-53, 1 - 0x1p-53);
    }
}

}  // namespace ringquell::internal
