#include "network/probes.h"

#include <fmt/format.h>

#include <set>

#include "base/nearest.h"

namespace ringquell {

using namespace internal;

namespace {

/// Where a probe is named as its key: `probes.gates 1-2.between`.
std::string probe_key(const Probe& probe) {
    return probe.name.empty() ? "probe" : fmt::format("probes.{}.between", probe.name);
}

int probe_end(NetworkBuilder& builder, const Probe& probe, const std::string& name) {
    const std::optional<int> node = name.starts_with("inner ") ? std::nullopt : builder.joined_node(name);
    if (node) return *node;
    Case bare = builder.input();
    bare.probes.clear();
    throw InputError(probe.place, probe_key(probe),
                     fmt::format("`{}` is no node of this network", name) +
                         suggestion(name, node_names(bare, builder.point())));
}

const Probe& probe_of(const Rule::At& at) {
    return at.input.probes[at.index];
}

}  // namespace

void internal::add_probes(NetworkBuilder& builder, bool whole) {
    const std::vector<Probe>& probes = builder.input().probes;
    for (size_t k = 0; k < probes.size(); ++k) {
        const Probe& probe = probes[k];
        if (!whole && !probe.stands()) continue;
        const Between ends{probe_end(builder, probe, probe.from), probe_end(builder, probe, probe.to)};
        if (builder.same(ends.from, ends.to))
            throw InputError(probe.place, probe_key(probe),
                             fmt::format("`{}` and `{}` are one node of this network; expected two",
                                         probe.from, probe.to));
        const std::string name = probes.size() == 1 ? "probe" : fmt::format("probe[{}]", k + 1);
        const Part leads = inductance(
            name + ".inductance", [](const Rule::At& at) { return probe_of(at).inductance_h; }, k);
        const Part tip = capacitance(
            name + ".capacitance", [](const Rule::At& at) { return probe_of(at).capacitance_f; }, k);
        const Part across = resistance(
            name + ".resistance", [](const Rule::At& at) { return *probe_of(at).resistance_ohm; }, k);
        if (probe.resistance_ohm)
            builder.series(name, 0, ends.from, ends.to, {leads, parallel({{across}, {tip}})});
        else
            builder.series(name, 0, ends.from, ends.to, {leads, tip});
    }
}

std::vector<std::string> node_names(const Case& input, const OperatingPoint& point) {
    NetworkOptions options;
    options.describe = true;
    std::set<std::string> out;
    for (const Joint& joint : build_network(input, point, options).joints)
        for (const std::string& name : {joint.from, joint.to})
            if (!name.starts_with("inner ")) out.insert(name);
    return {out.begin(), out.end()};
}

}  // namespace ringquell
