// Couplings between named inductances.
#include <fmt/format.h>

#include <algorithm>

#include "nearest.h"
#include "read_case_parts.h"

namespace ringquell {
namespace {

/// What an index behind a name counts.
enum class Counts { positions, segments, nothing };

struct Coupled {
    const char* name;
    Counts counts;
};

constexpr std::array coupled{
    Coupled{"gate_path", Counts::positions},
    Coupled{"kelvin_path", Counts::positions},
    Coupled{"drain_path", Counts::positions},
    Coupled{"source_path", Counts::positions},
    Coupled{"package.gate", Counts::positions},
    Coupled{"package.drain", Counts::positions},
    Coupled{"package.source", Counts::positions},
    Coupled{"package.kelvin", Counts::positions},
    Coupled{"bonds.mid", Counts::positions},
    Coupled{"bonds.jfet_gate", Counts::positions},
    Coupled{"snubber", Counts::positions},
    Coupled{"gate_shunt", Counts::positions},
    Coupled{"leg", Counts::positions},
    Coupled{"buses.gate", Counts::segments},
    Coupled{"buses.kelvin", Counts::segments},
    Coupled{"buses.drain", Counts::segments},
    Coupled{"buses.source", Counts::segments},
    Coupled{"driver", Counts::nothing},
    Coupled{"driver.return", Counts::nothing},
    Coupled{"driver.bypass", Counts::nothing},
    Coupled{"power_loop", Counts::nothing},
    Coupled{"dc_link", Counts::nothing},
    Coupled{"load", Counts::nothing},
};

InductanceName read_name(const Node& node, const std::string& path, const ReadContext& context,
                         const Driver& driver) {
    if (!node.is_scalar()) fail_expecting(node, path, "the name of an inductance such as `gate_path`");
    InductanceName out;
    for (const KeyPart& part : split_key(node.scalar, node.place)) {
        out.name = join_key(out.name, part.name);
        if (!part.index) continue;
        if (out.index) fail_expecting(node, path, "one index");
        out.index = part.index;
    }
    const auto found =
        std::find_if(coupled.begin(), coupled.end(), [&](const Coupled& c) { return out.name == c.name; });
    if (found == coupled.end()) {
        std::vector<std::string> names;
        for (const Coupled& c : coupled) names.emplace_back(c.name);
        throw InputError(node.place, path,
                         fmt::format("no inductance is named `{}`", out.name) + suggestion(out.name, names));
    }
    // Where every position has its own driver, that counts positions, too.
    const bool own_driver = driver.per_position != DriverSharing::shared && out.name.starts_with("driver");
    const Counts counts = own_driver ? Counts::positions : found->counts;
    if (!out.index) {
        if (counts == Counts::segments)
            throw InputError(node.place, path,
                             fmt::format("found `{0}`, expected a segment such as `{0}[1]`", node.scalar));
        return out;
    }
    if (counts == Counts::nothing)
        throw InputError(
            node.place, path,
            fmt::format("found `{}`, but there is one `{}` and no index", node.scalar, out.name));
    const int last = counts == Counts::positions ? context.positions : context.positions - 1;
    if (*out.index > last)
        throw InputError(
            node.place, path,
            fmt::format("found `{}`, but {} {}", node.scalar,
                        counts == Counts::positions ? "positions run from 1 to" : "segments run from 1 to",
                        last));
    return out;
}

}  // namespace

std::string write_inductance_name(const InductanceName& name) {
    return name.index ? fmt::format("{}[{}]", name.name, *name.index) : name.name;
}

std::vector<Coupling> read_couplings(const Node& list, const ReadContext& context, const Driver& driver) {
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
                                         write_inductance_name(coupling.first)));
        if (coupling.coefficient.has_value() == coupling.mutual_h.has_value())
            throw InputError(node.place, path, "expected `coefficient` or `mutual`, one of them");
        if (coupling.coefficient && !(*coupling.coefficient > -1 && *coupling.coefficient < 1))
            fail_expecting(*node.find("coefficient"), path + ".coefficient", "a value between -1 and 1");
        out.push_back(std::move(coupling));
    }
    return out;
}

}  // namespace ringquell
