#include "case/sample_space.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "base/fnv1a.h"
#include "base/nearest.h"
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
    find_parents(by_name);
    put_in_order();
    weigh();
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
        draws_.push_back({tolerance, position, stream, {}});
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

void SampleSpace::refuse_correlation(const Draw& draw, const Correlation& correlation,
                                     const std::string& text) const {
    const Tolerance& tolerance = this->tolerance(draw);
    throw InputError(correlation.place.line > 0 ? correlation.place : tolerance.place,
                     "spread." + tolerance.key, text);
}

void SampleSpace::find_parents(const DrawsByName& by_name) {
    std::map<DrawName, size_t> singles;
    for (const bool of_one_position : {false, true})  // a tolerance of its own comes first
        for (size_t k = 0; k < draws_.size(); ++k)
            if ((draws_[k].position > 0) == of_one_position)
                singles.emplace(DrawName{label(draws_[k]), tolerance(draws_[k]).vary}, k);
    for (size_t k = 0; k < draws_.size(); ++k) {
        Draw& draw = draws_[k];
        for (const Correlation& with : tolerance(draw).correlations) {
            const size_t parent = draw.position > 0 ? parent_at_position(draw, with, by_name)
                                                    : single_parent(draw, with, by_name, singles);
            if (parent == k)
                refuse_correlation(draw, with, "is correlated with itself; expected another key");
            for (const Draw::Parent& other : draw.parents)
                if (other.draw == parent)
                    refuse_correlation(
                        draw, with,
                        fmt::format("is correlated with `{}` twice; expected each key once", with.with));
            draw.parents.push_back({parent, 0});
            draw.linked = draws_[parent].linked = true;
        }
    }
    for (size_t k = 0; k < draws_.size(); ++k)
        if (draws_[k].linked) linked_.push_back(k);
}

size_t SampleSpace::parent_at_position(const Draw& draw, const Correlation& with,
                                       const DrawsByName& by_name) const {
    const auto other = by_name.find({with.with, Vary::position});
    if (other == by_name.end()) {
        std::vector<std::string> valid;
        for (const auto& [name, draws] : by_name)
            if (draws_[draws.front()].position > 0 && name.first != tolerance(draw).key)
                valid.push_back(name.first);
        refuse_correlation(
            draw, with,
            fmt::format("is correlated with `{}`, which has no tolerance with `vary: position`{}", with.with,
                        suggestion(with.with, valid)));
    }
    for (const size_t k : other->second) {
        if (draws_[k].position == draw.position) return k;
        if (draws_[k].position == 0)
            refuse_correlation(
                draw, with,
                fmt::format("varies at each position and is correlated with `{}`, which is of one; expected "
                            "a key of all positions",
                            with.with));
    }
    refuse_correlation(
        draw, with,
        fmt::format("is correlated with `{}`, which position {} has not", with.with, draw.position));
}

size_t SampleSpace::single_parent(const Draw& draw, const Correlation& with, const DrawsByName& by_name,
                                  const std::map<DrawName, size_t>& singles) const {
    const Vary own = tolerance(draw).vary;
    for (const Vary vary : {own, own == Vary::batch ? Vary::position : Vary::batch})
        if (const auto found = singles.find({with.with, vary}); found != singles.end()) return found->second;
    if (const auto each = by_name.find({with.with, Vary::position}); each != by_name.end())
        refuse_correlation(
            draw, with,
            fmt::format("is one number and is correlated with `{}`, which varies at each position; expected "
                        "`{}`, or a tolerance of it with `vary: batch`",
                        with.with, label(draws_[each->second.front()])));
    std::vector<std::string> valid;
    for (const auto& [name, k] : singles)
        if (draws_[k].position == 0 && name.first != tolerance(draw).key) valid.push_back(name.first);
    refuse_correlation(draw, with,
                       fmt::format("is correlated with `{}`, which has no tolerance{}", with.with,
                                   suggestion(with.with, valid)));
}

void SampleSpace::put_in_order() {
    std::vector<Visit> state(draws_.size(), Visit::none);
    for (size_t k = 0; k < draws_.size(); ++k) place(k, state);
}

void SampleSpace::place(size_t draw, std::vector<Visit>& state) {
    if (state[draw] == Visit::done) return;
    state[draw] = Visit::open;
    for (size_t i = 0; i < draws_[draw].parents.size(); ++i) {
        const size_t parent = draws_[draw].parents[i].draw;
        if (state[parent] == Visit::open)
            refuse_correlation(draws_[draw], tolerance(draws_[draw]).correlations[i],
                               "is correlated with itself by way of others; expected no circle");
        place(parent, state);
    }
    order_.push_back(draw);
    state[draw] = Visit::done;
}

void SampleSpace::weigh() {
    std::vector<Loadings> loadings(draws_.size());
    for (const size_t k : order_) {
        Draw& draw = draws_[k];
        if (!draw.linked) continue;
        if (!draw.parents.empty()) weigh(draw, loadings);
        for (const Draw::Parent& parent : draw.parents)
            for (const auto& [number, factor] : loadings[parent.draw])
                loadings[k][number] += parent.weight * factor;
        loadings[k][k] = draw.residual;
    }
}

void SampleSpace::weigh(Draw& draw, const std::vector<Loadings>& loadings) const {
    const std::vector<Correlation>& correlations = tolerance(draw).correlations;
    std::vector<const Loadings*> given;
    std::vector<double> coefficients;
    std::vector<std::string> texts;
    for (size_t i = 0; i < correlations.size(); ++i) {
        given.push_back(&loadings[draw.parents[i].draw]);
        coefficients.push_back(correlations[i].coefficient);
        texts.push_back(fmt::format("{:g} with `{}`", correlations[i].coefficient, correlations[i].with));
    }
    const Regression found = regression(given, coefficients);
    if (found.moves_with_others >= 0) {
        const Correlation& other = correlations[static_cast<size_t>(found.moves_with_others)];
        refuse_correlation(
            draw, other,
            fmt::format("is correlated with `{}`, which moves as one with those named before it; expected "
                        "keys that vary apart",
                        other.with));
    }
    if (!(found.variance > 0))
        refuse_correlation(
            draw, correlations.back(),
            fmt::format("is correlated by {}, which nothing can be at once: given these a variance of {:.3g} "
                        "is left of 1; expected coefficients that leave one above zero",
                        fmt::join(texts, " and "), found.variance));
    for (size_t i = 0; i < correlations.size(); ++i) draw.parents[i].weight = found.weights[i];
    draw.residual = std::sqrt(found.variance);
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
    const auto own = [&](const Draw& draw) {
        return uniform_number(
            {seed, sample, attempt, draw.stream, static_cast<std::uint32_t>(draw.position)});
    };
    // Those that are linked are normal numbers until the last of them is drawn.
    for (const size_t k : order_) {
        const Draw& draw = draws_[k];
        out[k] = own(draw);
        if (!draw.linked) continue;
        double z = 0;
        for (const Draw::Parent& parent : draw.parents) z += parent.weight * out[parent.draw];
        out[k] = z + draw.residual * normal_quantile(out[k]);
    }
    for (const size_t k : linked_) {
        const Draw& draw = draws_[k];
        out[k] =
            draw.parents.empty() ? own(draw) : std::clamp(normal_probability(out[k]), 0x1p-53, 1 - 0x1p-53);
    }
}

}  // namespace ringquell::internal
