#include "ringquell/write_case.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>

#include "case/coupling_names.h"
#include "case/cure_keys.h"
#include "case/describe.h"
#include "case/describe_measured.h"
#include "reader/document.h"
#include "reader/merge.h"
#include "reader/yaml_text.h"
#include "ringquell/numbers.h"

namespace ringquell {

namespace internal {
namespace {

Node quantity_node(double value, Dimension dimension) {
    return make_scalar(write_quantity(value, dimension));
}

Node text_node(const std::string& text) {
    Node node = make_scalar(text);
    node.quoted = true;
    return node;
}

Node pairs_node(const std::vector<std::pair<double, double>>& pairs, Dimension first, Dimension second) {
    Node list = make_list();
    for (const auto& [x, y] : pairs) {
        Node pair = make_list();
        pair.items = {quantity_node(x, first), quantity_node(y, second)};
        list.items.push_back(std::move(pair));
    }
    return list;
}

/// The visitor of describe() that makes the tree of one map.
class Writer : Visitor {
  public:
    Node map = make_map();

    void number(const char* key, double x, NumberSpec spec) {
        map.put(key, quantity_node(x, spec.dimension));
    }
    void number(const char* key, const std::optional<double>& x, NumberSpec spec) {
        if (x) map.put(key, quantity_node(*x, spec.dimension));
    }
    void integer(const char* key, int x) { map.put(key, make_scalar(std::to_string(x))); }
    void boolean(const char* key, bool x) { map.put(key, make_scalar(x ? "true" : "false")); }
    void text(const char* key, const std::string& x) {
        if (!x.empty()) map.put(key, text_node(x));
    }
    void texts(const char* key, const std::vector<std::string>& x) {
        if (x.empty()) return;
        Node list = make_list();
        for (const std::string& text : x) list.items.push_back(text_node(text));
        map.put(key, std::move(list));
    }
    template <class E, class N>
    void choice(const char* key, E x, const N& names, bool) {
        map.put(key, make_scalar(names[static_cast<size_t>(x)]));
    }
    template <class T, class D = Describe>
    void block(const char* key, const T& x, bool = false, D describer = {}) {
        Writer inner;
        describer(inner, x);
        map.put(key, std::move(inner.map));
    }
    template <class T, class D = Describe>
    void block(const char* key, const std::optional<T>& x, bool mandatory = false, D describer = {}) {
        if (x) block(key, *x, mandatory, describer);
    }
    void edges(const char* key, const PerEdge& x) {
        if (x.turn_on == x.turn_off) {
            map.put(key, quantity_node(x.turn_on, Dimension::resistance));
            return;
        }
        Node node = make_map();
        node.put("turn_on", quantity_node(x.turn_on, Dimension::resistance));
        node.put("turn_off", quantity_node(x.turn_off, Dimension::resistance));
        map.put(key, std::move(node));
    }
    void die_resistance(const char* key, const DieResistance& x, bool) {
        if (x == DieResistance{x.value_ohm}) {
            map.put(key, quantity_node(x.value_ohm, Dimension::resistance));
            return;
        }
        Node node = make_map();
        node.put("value", quantity_node(x.value_ohm, Dimension::resistance));
        node.put("at", quantity_node(x.at_degc, Dimension::temperature));
        node.put("per_kelvin", quantity_node(x.per_kelvin, Dimension::per_kelvin));
        map.put(key, std::move(node));
    }
    void channel(const char* key, const Die& x) { block(key, x, true, DescribeChannel{}); }
    void die_capacitance(const char* key, const Die& x) { block(key, x, true, DescribeDieCapacitance{}); }
    void transfer_curves(const char* key, const std::vector<TransferCurve>& curves) {
        Node list = make_list();
        for (const TransferCurve& curve : curves) {
            Node& node = list.items.emplace_back(make_map());
            if (curve.junction_temperature_degc)
                node.put("junction_temperature",
                         quantity_node(*curve.junction_temperature_degc, Dimension::temperature));
            node.put("points", pairs_node(curve.points, Dimension::voltage, Dimension::current));
        }
        map.put(key, std::move(list));
    }
    void capacitance_rows(const char* key, const CapacitanceTable& table) {
        Node list = make_list();
        for (const CapacitanceTable::Row& row : table.rows) {
            Node& node = list.items.emplace_back(make_map());
            node.put("vds", quantity_node(row.vds_v, Dimension::voltage));
            node.put("ciss", quantity_node(row.ciss_f, Dimension::capacitance));
            node.put("coss", quantity_node(row.coss_f, Dimension::capacitance));
            node.put("crss", quantity_node(row.crss_f, Dimension::capacitance));
        }
        map.put(key, std::move(list));
    }
    void complementary_capacitance(const char* key, const ComplementaryDevice& x) {
        if (!x.curve) {
            map.put(key, quantity_node(x.capacitance_f, Dimension::capacitance));
            return;
        }
        Node node = make_map();
        node.put("points", pairs_node(x.curve->points, Dimension::voltage, Dimension::capacitance));
        map.put(key, std::move(node));
    }
    void sections(const std::vector<BeadSection>& x) {
        if (x.size() == 1) {
            describe(*this, x.front());
            return;
        }
        Node list = make_list();
        for (const BeadSection& section : x) {
            Writer inner;
            describe(inner, section);
            list.items.push_back(std::move(inner.map));
        }
        map.put("sections", std::move(list));
    }
    void pairs(const char* key, const std::vector<std::pair<double, double>>& x, Dimension first,
               Dimension second) {
        if (!x.empty()) map.put(key, pairs_node(x, first, second));
    }
    void segments(const char* key, const std::vector<double>& x, Dimension dimension) {
        if (x.empty()) return;
        if (std::all_of(x.begin(), x.end(), [&](double value) { return value == x.front(); })) {
            map.put(key, quantity_node(x.front(), dimension));
            return;
        }
        Node list = make_list();
        for (const double value : x) list.items.push_back(quantity_node(value, dimension));
        map.put(key, std::move(list));
    }
    void temperatures(const char* key, const std::vector<double>& x) {
        Node list = make_list();
        for (const double value : x) list.items.push_back(quantity_node(value, Dimension::temperature));
        map.put(key, x.size() == 1 ? list.items.front() : list);
    }
    void durations(const char* key, const std::map<std::string, double>& x) {
        if (x.empty()) return;
        Node node = make_map();
        for (const auto& [stage, time] : x) node.put(stage, quantity_node(time, Dimension::time));
        map.put(key, std::move(node));
    }
    void limits(const char* key, double low, double high, Dimension dimension) {
        Node list = make_list();
        list.items = {quantity_node(low, dimension), quantity_node(high, dimension)};
        map.put(key, std::move(list));
    }
};

template <class T>
Node tree_of(const T& value) {
    Writer writer;
    describe(writer, value);
    return std::move(writer.map);
}

// ---- a case ----

Node overrides_node(const Case& in, const Node& base) {
    Node list = make_list();
    for (int k = 2; k <= in.n(); ++k) {
        const Position& position = in.positions[static_cast<size_t>(k) - 1];
        if (position == in.positions.front()) continue;
        const auto changed = difference(base, tree_of(position), "");
        if (!changed) continue;
        Node entry = make_map();
        entry.put("position", make_scalar(std::to_string(k)));
        for (const auto& [key, value] : changed->entries) entry.put(key.text, value);
        list.items.push_back(std::move(entry));
    }
    return list;
}

/// One `device` block where that says it for every position, else the whole devices.
void put_devices(Node& node, const Point& point, const Case& in) {
    if (point.devices.empty()) return;
    std::vector<Node> targets;
    for (const Device& device : point.devices) targets.push_back(tree_of(device));
    const Node block =
        difference(tree_of(in.positions.front().device), targets.front(), "device").value_or(make_map());
    bool same = true;
    for (size_t k = 0; same && k < in.positions.size(); ++k) {
        // Positions that are like their neighbour in both respects are not worth a second comparison.
        const size_t t = targets.size() == 1 ? 0 : k;
        if (k > 0 && targets.size() == 1 && in.positions[k].device == in.positions[k - 1].device) continue;
        same = lay_over(tree_of(in.positions[k].device), block, "device").same(targets[t]);
    }
    if (same) {
        node.put("device", block);
        return;
    }
    Node list = make_list();
    list.items = std::move(targets);
    node.put("devices", std::move(list));
}

Node operation_node(const Case& in) {
    Node node = tree_of(in.operation);
    if (in.operation.points.empty()) return node;
    Node list = make_list();
    for (const Point& point : in.operation.points) {
        Node& entry = list.items.emplace_back(tree_of(point));
        put_devices(entry, point, in);
    }
    node.put("points", std::move(list));
    return node;
}

Node couplings_node(const Case& in) {
    Node list = make_list();
    for (const Coupling& coupling : in.couplings) {
        Node& entry = list.items.emplace_back(make_map());
        Node between = make_list();
        between.items = {text_node(written(coupling.first)), text_node(written(coupling.second))};
        entry.put("between", std::move(between));
        if (coupling.coefficient)
            entry.put("coefficient", quantity_node(*coupling.coefficient, Dimension::number));
        if (coupling.mutual_h) entry.put("mutual", quantity_node(*coupling.mutual_h, Dimension::inductance));
    }
    return list;
}

/// A share as `1.5e+01 %`: the shortest digits that read back the same double, its exponent moved by two.
std::string percent(double share) {
    std::array<char, 32> digits{};
    const auto end =
        std::to_chars(digits.data(), digits.data() + digits.size(), share, std::chars_format::scientific).ptr;
    const std::string text(digits.data(), end);
    const size_t e = text.find('e');
    return fmt::format("{}e{:+d} %", text.substr(0, e), std::stoi(text.substr(e + 1)) + 2);
}

Node cure_node(const Case& in) {
    Node node = make_map();
    if (!in.cure.fixed.empty()) {
        Node list = make_list();
        for (const std::string& pattern : in.cure.fixed) list.items.push_back(text_node(pattern));
        node.put("fixed", std::move(list));
    }
    if (!in.cure.may.empty()) {
        Node may = make_map();
        for (const auto& [key, range] : in.cure.may) {
            const Dimension dimension = cure_dimension(in, key).value_or(Dimension::number);
            Node ends = make_map();
            if (range.from) ends.put("from", quantity_node(*range.from, dimension));
            if (range.to) ends.put("to", quantity_node(*range.to, dimension));
            may.put(key, std::move(ends));
        }
        node.put("may", std::move(may));
    }
    if (!in.cure.price.empty()) {
        Node price = make_map();
        for (const auto& [pattern, effort] : in.cure.price)
            price.put(pattern, quantity_node(effort, Dimension::number));
        node.put("price", std::move(price));
    }
    return node;
}

/// What stands alone in its list, else the list.
Node single_or_list(Node list) {
    return list.items.size() == 1 ? std::move(list.items.front()) : std::move(list);
}

Node spread_node(const Case& in) {
    Node map = make_map();
    std::vector<std::string> keys;
    for (const Tolerance& t : in.spread)
        if (std::find(keys.begin(), keys.end(), t.key) == keys.end()) keys.push_back(t.key);
    for (const std::string& key : keys) {
        const Dimension dimension =
            key.ends_with(".bead") ? Dimension::share : find_number(in, key).dimension;
        Node list = make_list();
        for (const Tolerance& t : in.spread) {
            if (t.key != key) continue;
            Node& entry = list.items.emplace_back(make_map());
            // A share is written in full, since dividing by 100 may round.
            entry.put("tolerance",
                      t.relative ? make_scalar(percent(t.amount)) : quantity_node(t.amount, dimension));
            if (t.at_least > 0) entry.put("at_least", quantity_node(t.at_least, dimension));
            entry.put("vary", make_scalar(name_of(t.vary)));
            entry.put("distribution", make_scalar(name_of(t.distribution)));
            Node correlations = make_list();
            for (const Correlation& c : t.correlations) {
                Node& with = correlations.items.emplace_back(make_map());
                with.put("with", text_node(c.with));
                with.put("coefficient", quantity_node(c.coefficient, Dimension::share));
            }
            if (!correlations.items.empty())
                entry.put("correlation", single_or_list(std::move(correlations)));
        }
        map.put(key, single_or_list(std::move(list)));
    }
    return map;
}

Node assumed_node(const Case& in) {
    Node list = make_list();
    for (const Assumed& a : in.assumed) list.items.push_back(make_scalar(a.key));
    return list;
}

}  // namespace
}  // namespace internal

using namespace internal;

std::string write_case(const Case& in) {
    Node root = make_map();
    root.put("ringquell", make_scalar("1"));
    if (!in.title.empty()) root.put("title", text_node(in.title));
    root.put("positions", make_scalar(std::to_string(in.n())));
    const Node base = tree_of(in.positions.front());
    for (const auto& [key, value] : base.entries) root.put(key.text, value);
    Writer shared;
    shared.block("buses", in.buses, false, DescribeBuses{});
    if (!shared.map.find("buses")->entries.empty()) root.put("buses", *shared.map.find("buses"));
    root.put("driver", tree_of(in.driver));
    root.put("power_loop", tree_of(in.power_loop));
    if (Node list = overrides_node(in, base); !list.items.empty()) root.put("overrides", std::move(list));
    if (!in.couplings.empty()) root.put("couplings", couplings_node(in));
    root.put("operation", operation_node(in));
    root.put("require", tree_of(in.require));
    if (!in.spread.empty()) root.put("spread", spread_node(in));
    if (!in.cure.empty()) root.put("cure", cure_node(in));
    if (!in.assumed.empty()) root.put("assumed", assumed_node(in));
    if (!in.measured.empty()) {
        Node list = make_list();
        for (const MeasuredRing& ring : in.measured) list.items.push_back(tree_of(ring));
        root.put("measured", std::move(list));
    }
    return yaml_text(root);
}

}  // namespace ringquell
