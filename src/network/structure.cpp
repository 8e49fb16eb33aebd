#include "network/structure.h"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "network/reducer.h"

namespace ringquell::internal {

std::vector<NetworkStructure::Constant> NetworkStructure::constants_of(const Network& network) {
    std::vector<Constant> out;
    out.reserve(network.constant.size());
    for (const auto& t : network.constant) out.push_back({t.row(), t.col(), t.value()});
    return out;
}

NetworkStructure::NetworkStructure(const Network& network) : constants_(constants_of(network)) {
    for (const Constant& c : constants_)
        if (std::abs(c.value) != 1) throw std::logic_error("a network's constants must be 1 or -1");
    for (const Element& e : network.elements) elements_.push_back({e.kind, e.left, e.right});
    for (const Unknown& u : network.unknowns) names_.push_back(u.name);
    const std::vector<double> values = Reducer::element_values(network);
    for (size_t i = 0; i < values.size(); ++i) {
        const auto first =
            std::find(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(i), values[i]);
        equal_to_.push_back(values[i] == 0   ? zero
                            : values[i] == 1 ? one
                                             : static_cast<int>(first - values.begin()));
    }
}

bool NetworkStructure::holds_for(const double* values) const {
    for (size_t i = 0; i < equal_to_.size(); ++i) {
        const bool is_zero = values[i] == 0;
        if (is_zero != (equal_to_[i] == zero)) return false;
        if (equal_to_[i] == one ? values[i] != 1 : !is_zero && values[i] != values[equal_to_[i]])
            return false;
    }
    return true;
}

bool NetworkStructure::fits(const Network& network) const {
    if (network.elements.size() != elements_.size() || network.unknowns.size() != names_.size() ||
        constants_of(network) != constants_)
        return false;
    for (size_t i = 0; i < elements_.size(); ++i) {
        const Element& e = network.elements[i];
        if (e.kind != elements_[i].kind || e.left != elements_[i].left || e.right != elements_[i].right)
            return false;
    }
    for (size_t i = 0; i < names_.size(); ++i)
        if (network.unknowns[i].name != names_[i]) return false;
    return holds_for(Reducer::element_values(network).data());
}

}  // namespace ringquell::internal
