// The networks of one case, built once for each structure and then only given other values.
#pragma once

#include <memory>
#include <vector>

#include "network/reducer.h"
#include "ringquell/network.h"

namespace ringquell::internal {

/// Building a network costs a hundred times what solving its modes does where positions are alike. From point
/// to point only the devices' values and the complementary capacitance move; they are written into the
/// network that was built for the same edge, block and pattern of zeros, as long as the order of its
/// capacitances, from which the unknowns were chosen, is the same. Anything else is built anew. So the result
/// equals build_network, number by number.
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
    bool saturates_ = false;  // some bead's values depend on the gate current
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
    struct Binding {
        size_t element;
        size_t position;                           // from 0
        double (*of_device)(const DeviceValues&);  // null: the complementary capacitance
    };
    Entry(const Case& input, const OperatingPoint& point, const NetworkOptions& options);
    bool take(const OperatingPoint& point, const NetworkOptions& options, bool saturates);
    bool capacitances_keep_order() const;

    OperatingPoint built_at_;
    NetworkOptions options_;
    std::vector<Binding> bindings_;
    std::vector<size_t> capacitances_;                // elements, largest first
    std::vector<std::pair<size_t, double>> changed_;  // by set(): element and what stood there
    double shared_ = 1;                               // by which shared capacitances are divided
    std::vector<std::shared_ptr<Reducer>>* reducers_ = nullptr;
};

}  // namespace ringquell::internal
