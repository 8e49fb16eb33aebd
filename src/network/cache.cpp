#include "network/cache.h"

#include <algorithm>

namespace ringquell::internal {

NetworkCache::NetworkCache(const Case& input) : input_(input) {}

void NetworkCache::case_changed() {
    entries_.clear();
}

NetworkCache::~NetworkCache() = default;

NetworkCache::Entry& NetworkCache::at(const OperatingPoint& point, const NetworkOptions& options) {
    // Edges, complementary states, blocks, swept or not, a few orders of capacitances.
    constexpr size_t most = 32;
    for (auto it = entries_.rbegin(); it != entries_.rend(); ++it)
        if ((*it)->take(point, options)) return **it;
    if (entries_.size() >= most) entries_.erase(entries_.begin());
    entries_.push_back(std::unique_ptr<Entry>(new Entry(input_, point, options)));
    entries_.back()->reducers_ = &reducers_;
    return *entries_.back();
}

NetworkCache::Entry::Entry(const Case& input, const OperatingPoint& point, const NetworkOptions& options)
    : network(build_network(input, point, options)),
      values(Reducer::element_values(network)),
      options_(options),
      rules_(network, input, point, NetworkValues::Gains::must_stand) {
    for (size_t i = 0; i < network.elements.size(); ++i)
        if (network.elements[i].kind == ElementKind::capacitance) capacitances_.push_back(i);
    std::stable_sort(capacitances_.begin(), capacitances_.end(), [this](size_t x, size_t y) {
        return network.elements[x].value > network.elements[y].value;
    });
}

bool NetworkCache::Entry::capacitances_keep_order() const {
    for (size_t i = 0; i + 1 < capacitances_.size(); ++i) {
        const double here = network.elements[capacitances_[i]].value,
                     next = network.elements[capacitances_[i + 1]].value;
        if (here < next || (here == next && capacitances_[i] > capacitances_[i + 1])) return false;
    }
    return true;
}

void NetworkCache::Entry::set(size_t element, double value) {
    Element& e = network.elements[element];
    e.value = value;
    values[element] = e.in_e() ? value * natural : value;
}

bool NetworkCache::Entry::take(const OperatingPoint& point, const NetworkOptions& options) {
    if (options != options_ || !rules_.evaluate(point, values.data())) return false;
    for (size_t i = 0; i < values.size(); ++i) set(i, values[i]);
    return capacitances_keep_order();
}

const Reducer& NetworkCache::Entry::reduced() {
    if (!reducer || !reducer->holds_for(values.data())) {
        constexpr size_t most = 32;
        const auto fitting = std::find_if(reducers_->begin(), reducers_->end(),
                                          [this](const auto& r) { return r->fits(network); });
        if (fitting != reducers_->end()) {
            reducer = *fitting;
        } else {
            if (reducers_->size() >= most) reducers_->erase(reducers_->begin());
            reducer = std::make_shared<Reducer>(network);
            reducers_->push_back(reducer);
        }
    }
    reducer->evaluate(values.data());
    return *reducer;
}

}  // namespace ringquell::internal
