#include "reader/couplings.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

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
    if (!out.index) return out;
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

/// "2 segments of inductance (1, 3)"
std::string counted_segments(const std::vector<size_t>& segments) {
    std::vector<size_t> numbers;
    numbers.reserve(segments.size());
    for (const size_t k : segments) numbers.push_back(k + 1);
    return fmt::format("{} segment{} of inductance ({})", numbers.size(), numbers.size() == 1 ? "" : "s",
                       fmt::join(numbers, ", "));
}

/// Segments, of those that a rail has by its positions, whose inductance is above zero.
std::vector<size_t> inductive_segments(const Buses& buses, const InductanceName& name) {
    for (size_t r = 0; r < rail_names.size(); ++r) {
        if (name.name != fmt::format("buses.{}", rail_names[r]) || !buses[r]) continue;
        std::vector<size_t> out;
        for (size_t k = 0; k < buses[r]->inductance_h.size(); ++k)
            if (buses[r]->inductance_h[k] > 0) out.push_back(k);
        return out;
    }
    return {};
}

/// What a whole rail can be coupled with: a shared inductance, one of a position, one segment, or another whole
/// rail that has the same segments.
void check_rails(const Coupling& coupling, const Node& between, const std::string& path, const Driver& driver,
                 const Buses& buses) {
    const auto is_rail = [](const InductanceName& name) {
        return coupled_inductance(name.name)->counts == Counts::segments;
    };
    const InductanceName &first = coupling.first, &second = coupling.second;
    if (first.index || second.index || (!is_rail(first) && !is_rail(second))) return;
    if (is_rail(first) && is_rail(second)) {
        const std::vector<size_t> of_first = inductive_segments(buses, first),
                                  of_second = inductive_segments(buses, second);
        // A rail without any is refused where the network is built.
        if (of_first.empty() || of_second.empty() || of_first == of_second) return;
        throw InputError(
            between.place, path,
            fmt::format("found `{}` with {} and `{}` with {}, expected rails whose segments pair "
                        "off one by one, or single segments such as `{}[1]`",
                        first.name, counted_segments(of_first), second.name, counted_segments(of_second),
                        first.name));
    }
    const InductanceName &rail = is_rail(first) ? first : second, &other = is_rail(first) ? second : first;
    if (counts_positions(*coupled_inductance(other.name), driver))
        throw InputError(
            between.place, path,
            fmt::format("found every segment of `{0}` with every position's `{1}`, but a segment "
                        "lies between two positions and belongs to none; expected one of the two, "
                        "such as `{0}[1]` or `{1}[1]`",
                        rail.name, other.name));
}

}  // namespace

std::vector<Coupling> read_couplings(const Node& list, ReadContext& context, const Driver& driver,
                                     const Buses& buses) {
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
        check_rails(coupling, *between, path + ".between", driver, buses);
        if (coupling.coefficient.has_value() == coupling.mutual_h.has_value())
            throw InputError(node.place, path, "expected `coefficient` or `mutual`, one of them");
        if (coupling.coefficient && !(*coupling.coefficient > -1 && *coupling.coefficient < 1))
            fail_expecting(*node.find("coefficient"), path + ".coefficient", "a value between -1 and 1");
        out.push_back(std::move(coupling));
    }
    return out;
}

}  // namespace ringquell::internal
