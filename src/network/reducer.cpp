#include "network/reducer.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "network/structure.h"
#include "numerics/explicit_form.h"
#include "numerics/pencil_reduction.h"

namespace ringquell::internal {

struct Reducer::Structure : NetworkStructure {
    using NetworkStructure::NetworkStructure;
};

std::vector<double> Reducer::element_values(const Network& network) {
    std::vector<double> out;
    out.reserve(network.elements.size());
    for (const Element& e : network.elements) out.push_back(e.in_e() ? e.value * natural : e.value);
    return out;
}

Reducer::Reducer(const Network& network) : structure_(std::make_unique<Structure>(network)) {
    Tape tape;
    std::vector<Traced> inputs;
    for (double value : element_values(network)) inputs.push_back(tape.input(value));
    const Traced one = tape.input(1), minus_one = tape.input(-1);
    TracedPencil pencil(network.size());
    for (const auto& t : network.constant) {
        auto& row = pencil.a[static_cast<size_t>(t.row())];
        if (!row.try_emplace(t.col(), t.value() > 0 ? one : minus_one).second)
            TracedPencil::add(tape, row, t.col(), t.value() > 0 ? one : minus_one, 1);
    }
    for (size_t k = 0; k < network.elements.size(); ++k) {
        const Element& e = network.elements[k];
        auto& matrix = e.in_e() ? pencil.e : pencil.a;
        const double sign = e.in_e() ? 1 : -1;
        for (const auto& [i, a] : e.left)
            for (const auto& [j, b] : e.right) {
                TracedPencil::add(tape, matrix[static_cast<size_t>(i)], j, inputs[k], sign * a * b);
                if (e.kind == ElementKind::mutual)
                    TracedPencil::add(tape, matrix[static_cast<size_t>(j)], i, inputs[k], sign * a * b);
            }
    }
    reduction_ =
        std::make_unique<PencilReduction>(reduce(std::move(tape), std::move(pencil), structure_->names()));
    values_.resize(reduction_->tape.size());
    values_[network.elements.size()] = 1;
    values_[network.elements.size() + 1] = -1;
}
Reducer::~Reducer() = default;
Reducer::Reducer(Reducer&&) noexcept = default;
Reducer& Reducer::operator=(Reducer&&) noexcept = default;

bool Reducer::fits(const Network& network) const {
    return structure_->fits(network);
}
bool Reducer::holds_for(const double* values) const {
    return structure_->holds_for(values);
}
int Reducer::structural_zeros() const {
    return reduction_->structural_zeros;
}
int Reducer::unknowns() const {
    return reduction_->unknowns;
}

void Reducer::evaluate(const Network& network) {
    evaluate(element_values(network).data());
}

void Reducer::evaluate(const double* values) {
    std::copy(values, values + structure_->element_count(), values_.begin());
    reduction_->tape.run(values_.data());
    condition_ = explicit_form(reduction_->nonzero, values_.data(), e_, a_);
    if (!(condition_ <= largest_condition) || !a_.allFinite())
        throw NumericalError(
            fmt::format("the elimination of the algebraic part is ill conditioned ({:.1e}, more than "
                        "{:.0e}): values of very "
                        "different size stand in one loop, and the damping cannot be told from rounding",
                        condition_, largest_condition));
}

Eigen::VectorXcd Reducer::full_vector(std::complex<double> lambda, const Eigen::VectorXcd& reduced) const {
    Eigen::VectorXcd x = Eigen::VectorXcd::Zero(reduction_->unknowns);
    for (size_t i = 0; i < reduction_->nonzero.kept.size(); ++i)
        x[reduction_->nonzero.kept[i]] = reduced[static_cast<Eigen::Index>(i)];
    reduction_->recover(values_.data(), lambda, x.data());
    return x;
}

StateSpace Reducer::state_space() const {
    StateSpace out;
    Eigen::MatrixXd e;
    out.condition = explicit_form(reduction_->finite, values_.data(), e, out.a);
    if (!(out.condition <= largest_condition))
        throw NumericalError(fmt::format("the explicit form is ill conditioned ({:.1e}, more than {:.0e})",
                                         out.condition, largest_condition));
    out.a *= natural;
    for (int i : reduction_->finite.kept) out.states.push_back(structure_->names()[static_cast<size_t>(i)]);
    out.structural_zeros = reduction_->structural_zeros;
    return out;
}

}  // namespace ringquell::internal
