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
    DrawsByName by_name;
    std::map<std::uint32_t, DrawName> streams;
    for (size_t t = 0; t < input_.spread.size(); ++t) {
        const Tolerance& tolerance = input_.spread[t];
        const DrawName name{tolerance.key, tolerance.vary};
        const bool at_each_position = varies_at_each_position(tolerance);
        if (by_name.contains(name))
            refuse(tolerance,
                   "has two tolerances that vary alike; expected one for `position` and one for `batch`");
        std::uint32_t stream = fnv1a_32(name.first + "/" + name_of(name.second));
        while (!streams.emplace(stream, name).second) ++stream;
        by_name[name] = add_draws(t, stream, at_each_position);
    }
    if (draws_.empty())
        throw InputError({input_.file}, "spread",
                         "found no tolerance, expected `spread: typical` or tolerances of your own");
    correlate(by_name);
    put_in_order();
    check_signs();
}

bool SampleSpace::varies_at_each_position(const Tolerance& tolerance) const {
    if (tolerance.key.starts_with("require.")) refuse(tolerance, "is what is asked, not a part that varies");
    bool one_position = false, position_number = false;
    try {
        position_number = is_position_number(tolerance.key, one_position);
        varying_number(input_, tolerance.key, 0);
    } catch (const InputError& error) {
        refuse(tolerance, error.text());
    }
    if (tolerance.vary != Vary::position) return false;
    if (!position_number)
        refuse(tolerance, "found `vary: position`, but all positions share this; expected `vary: batch`");
    return !one_position;
}

std::vector<size_t> SampleSpace::add_draws(size_t tolerance, std::uint32_t stream, bool at_each_position) {
    std::vector<size_t> out;
    const auto add = [&](int position) {
        out.push_back(draws_.size());
        draws_.push_back({tolerance, position, stream, -1});
    };
    if (!at_each_position) {
        add(0);
        return out;
    }
    for (int k = 1; k <= input_.n(); ++k) {
        try {
            varying_number(input_, input_.spread[tolerance].key, k);
        } catch (const InputError&) {
            continue;  // what an override adds at one position others have not
        }
        add(k);
    }
    return out;
}

void SampleSpace::correlate(const DrawsByName& by_name) {
    for (Draw& draw : draws_) {
        const Tolerance& tolerance = this->tolerance(draw);
        if (!tolerance.correlation) continue;
        const std::string& with = tolerance.correlation->with;
        const auto other = by_name.find({with, tolerance.vary});
        if (other == by_name.end())
            refuse(tolerance, fmt::format("is correlated with `{}`, which has no tolerance with `vary: {}`",
                                          with, name_of(tolerance.vary)));
        for (const size_t k : other->second)
            if (draws_[k].position == draw.position) draw.parent = static_cast<int>(k);
        if (draw.parent < 0)
            refuse(tolerance,
                   fmt::format("is correlated with `{}`, which position {} has not", with, draw.position));
    }
}

void SampleSpace::put_in_order() {
    enum class State { untouched, on_the_way, placed };
    std::vector<State> state(draws_.size(), State::untouched);
    for (size_t k = 0; k < draws_.size(); ++k) {
        std::vector<size_t> chain;  // from the draw to its first ancestor that is not placed
        for (int at = static_cast<int>(k); at >= 0 && state[static_cast<size_t>(at)] != State::placed;
             at = draws_[static_cast<size_t>(at)].parent) {
            const auto i = static_cast<size_t>(at);
            if (state[i] == State::on_the_way)
                refuse(tolerance(draws_[i]),
                       "is correlated with itself by way of others; expected no circle");
            state[i] = State::on_the_way;
            chain.push_back(i);
        }
        for (auto i = chain.rbegin(); i != chain.rend(); ++i) {
            order_.push_back(*i);
            state[*i] = State::placed;
        }
    }
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
    for (const auto& target : sampled.targets()) {
        const size_t t = draws_[target.draw].tolerance;
        any[t] = any[t] || target.up > 0;
        if (lowest.at(target.value) > 0 || varying_number(input_, input_.spread[t].key, 0).may_be_negative)
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
