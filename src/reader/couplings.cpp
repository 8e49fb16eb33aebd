#include "reader/couplings.h"

#include <fmt/format.h>

#include "base/nearest.h"
#include "case/coupling_names.h"
#include "reader/field_reader.h"

namespace ringquell::internal {
namespace {

InductanceName read_name(const Node& node, const std::string& path, ReadContext& context,
                         const Driver& driver) {
    if (!node.is_scalar()) fail_expecting(node, path, "the name of an inductance such as `gate_path`");
    InductanceName out;
    for (const KeyPart& part : split_key(node.scalar, node.place)) {
        out.name = join_key(out.name, part.name);
        if (!part.index) continue;
        if (out.index) fail_expecting(node, path, "one index");
        out.index = part.index;
    }
    const CoupledInductance* found = coupled_inductance(out.name);
    if (found == nullptr)
        throw InputError(
            node.place, path,
            fmt::format("no inductance is named `{}`", out.name) + suggestion(out.name, coupled_names()));
    const bool segments = found->counts == Counts::segments, positions = counts_positions(*found, driver);
    if (!out.index) {
        if (segments)
            throw InputError(node.place, path,
                             fmt::format("found `{0}`, expected a segment such as `{0}[1]`", node.scalar));
        return out;
    }
    if (!segments && !positions)
        throw InputError(
            node.place, path,
            fmt::format("found `{}`, but there is one `{}` and no index", node.scalar, out.name));
    const int last = positions ? context.positions : context.positions - 1;
    if (*out.index > last)
        throw InputError(node.place, path,
                         fmt::format("found `{}`, but {} {}", node.scalar,
                                     positions ? "positions run from 1 to" : "segments run from 1 to", last));
    return out;
}

}  // namespace

std::vector<Coupling> read_couplings(const Node& list, ReadContext& context, const Driver& driver) {
    std::vector<Coupling> out;
    if (list.is_null()) return out;
    if (!list.is_list()) fail_expecting(list, "couplings", "a list");
    for (size_t i = 0; i < list.items.size(); ++i) {
        const Node& node = list.items[i];
        const std::string path = fmt::format("couplings[{}]", i + 1);
        FieldReader reader(node, path, context);
        Coupling coupling;
        coupling.place = node.place;
        const Node* between = reader.take("between", is_mandatory);
        reader.number("coefficient", coupling.coefficient, any_sign(plain));
        reader.number("mutual", coupling.mutual_h, any_sign(henries));
        reader.finish();
        if (!between->is_list() || between->items.size() != 2)
            fail_expecting(*between, path + ".between",
                           "a list of two inductances, [gate_path, source_path]");
        coupling.first = read_name(between->items[0], path + ".between[1]", context, driver);
        coupling.second = read_name(between->items[1], path + ".between[2]", context, driver);
        if (coupling.first == coupling.second)
            throw InputError(between->place, path + ".between",
                             fmt::format("`{}` is named twice; a coupling is between two inductances",
                                         written(coupling.first)));
        if (coupling.coefficient.has_value() == coupling.mutual_h.has_value())
            throw InputError(node.place, path, "expected `coefficient` or `mutual`, one of them");
        if (coupling.coefficient && !(*coupling.coefficient > -1 && *coupling.coefficient < 1))
            fail_expecting(*node.find("coefficient"), path + ".coefficient", "a value between -1 and 1");
        out.push_back(std::move(coupling));
    }
    return out;
}

}  // namespace ringquell::internal
