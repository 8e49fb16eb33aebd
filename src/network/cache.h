// The networks of one case, built once for each structure and then only given other values.
#pragma once

#include <memory>
#include <vector>

#include "network/reducer.h"
#include "network/values.h"
#include "ringquell/network.h"

namespace ringquell::internal {

/// Building a network costs a hundred times what solving its modes does where positions are alike. From point
/// to point the numbers that its rules give are written into the network that was built for the same edge,
/// block and pattern of zeros, as long as the order of its capacitances, from which the unknowns were chosen,
/// is the same. Anything else is built anew. So the result equals build_network, number by number.
class NetworkCache {
  public:
    explicit NetworkCache(const Case& input);
    ~NetworkCache();

    /// Networks are built anew, as values of the case have changed; recorded eliminations are kept.
    void case_changed();

    struct Entry;
    /// The network of a point, valid until the next call.
    Entry& at(const OperatingPoint& point, const NetworkOptions& options);

  private:
    const Case& input_;
    std::vector<std::unique_ptr<Entry>> entries_;
    std::vector<std::shared_ptr<Reducer>> reducers_;
};

struct NetworkCache::Entry {
    Network network;
    std::vector<double> values;        // of the elements, in natural units
    std::shared_ptr<Reducer> reducer;  // null until reduced() is called

    /// Sets an element to another value than the point's; at() undoes it.
    void set(size_t element, double value);
    /// The reduction, evaluated at the values. Throws as Reducer does.
    const Reducer& reduced();

  private:
    friend class NetworkCache;
    Entry(const Case& input, const OperatingPoint& point, const NetworkOptions& options);
    bool take(const OperatingPoint& point, const NetworkOptions& options);
    bool capacitances_keep_order() const;

    NetworkOptions options_;
    NetworkValues rules_;
    std::vector<size_t> capacitances_;  // elements, largest first
    std::vector<std::shared_ptr<Reducer>>* reducers_ = nullptr;
};

}  // namespace ringquell::internal
