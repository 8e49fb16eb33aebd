#include "ringquell/pickup.h"

#include <fmt/format.h>

#include <memory>

#include "command/command.h"
#include "devices/find_point.h"
#include "ringquell/picked_modes.h"
#include "ringquell/ports.h"
#include "ringquell/quantity.h"
#include "ringquell/report.h"

namespace ringquell::command {

namespace {

struct PickupArguments : CaseOptions {
    std::vector<std::string> between;
    std::string at, probe;
};

/// `A B`, or `A:B` as `export --port` has it.
std::pair<std::string, std::string> two_nodes(const std::vector<std::string>& texts) {
    std::string first = texts.front(), second = texts.size() > 1 ? texts[1] : "";
    if (const size_t colon = first.find(':'); texts.size() == 1 && colon != std::string::npos) {
        second = first.substr(colon + 1);
        first.resize(colon);
    }
    if (first.empty() || second.empty() || second.find(':') != std::string::npos)
        throw InputError(
            {}, "--between",
            fmt::format("found `{}`; expected two nodes, such as \"gate pin[1]\" \"gate pin[2]\"",
                        fmt::join(texts, " ")));
    return {first, second};
}

[[noreturn]] void refuse_probe(const std::string& found) {
    throw InputError(
        {}, "--probe",
        fmt::format("found `{}`; expected its capacitance, resistance and inductance, one of each at "
                    "most, such as `0.8pF:50kohm:6nH`",
                    found));
}

/// A value of that dimension; empty where the text is none.
std::optional<double> quantity(const std::string& text, Dimension dimension) {
    try {
        return parse_quantity(text, dimension, {}, "--probe");
    } catch (const InputError&) {
        return {};
    }
}

/// `0.8pF:50kohm:6nH`: the units tell which is which.
void read_probe_values(const std::string& text, Probe& out) {
    std::optional<double> farad, henry;
    for (size_t from = 0; from <= text.size();) {
        const size_t to = std::min(text.find(':', from), text.size());
        const std::string part = text.substr(from, to - from);
        from = to + 1;
        bool known = false;
        for (auto [dimension, value] : {std::pair{Dimension::capacitance, &farad},
                                        std::pair{Dimension::resistance, &out.resistance_ohm},
                                        std::pair{Dimension::inductance, &henry}}) {
            const std::optional<double> found = quantity(part, dimension);
            if (!found) continue;
            if (*value || *found < 0 || (dimension == Dimension::resistance && *found == 0))
                refuse_probe(text);
            *value = found;
            known = true;
        }
        if (!known) refuse_probe(text);
    }
    out.capacitance_f = farad.value_or(0);
    out.inductance_h = henry.value_or(0);
}

PickupOptions options_of(const PickupArguments& o) {
    PickupOptions out;
    if (o.between.empty()) {
        if (!o.probe.empty())
            throw InputError({}, "--probe", "goes with --between, which says where it hangs");
        return out;
    }
    Probe& probe = out.probe.emplace();
    std::tie(probe.from, probe.to) = two_nodes(o.between);
    if (!o.probe.empty()) read_probe_values(o.probe, probe);
    return out;
}

std::vector<PickedMode> picked(const Case& input, const std::string& at) {
    if (at == "unpowered") return modes_at(input, unpowered_point(input));
    if (!at.empty()) {
        const OperatingPath path = operating_path(input);
        return modes_at(input, path.points[internal::find_point(path.points, at, {}, "--at")]);
    }
    CheckOptions plain;
    plain.size_gate_resistor = plain.gain_margin = false;
    return modes_to_probe(check(input, plain));
}

}  // namespace

void add_pickup(CommandLine& line) {
    auto o = std::make_shared<PickupArguments>();
    Verb verb =
        line.verb("pickup", "What a probe would show of the worst modes, and where it would show most");
    add_case_options(verb, *o);
    verb.option("--between", o->between,
                "The two nodes that the probe touches, as check --network names them; without them the "
                "ranking alone")
        .type("NODE NODE")
        .takes(1, 2);
    verb.option("--probe", o->probe,
                "What hangs there: capacitance, resistance beside it and inductance of the leads, such as "
                "0.8pF:50kohm:6nH; an ideal probe without it")
        .type("C:R:L");
    verb.option("--at", o->at,
                "Name of an operating point, or unpowered; without it the worst modes where check finds them")
        .type("POINT");
    verb.footer(
        "Example: ringquell pickup cases/ropeway-first.yaml --between \"gate pin[1]\" \"gate pin[2]\" "
        "--probe "
        "0.8pF:50kohm:6nH\n"
        "Exit status 0: nothing is judged.");
    verb.runs([o] {
        const PickupOptions options = options_of(*o);
        const Case input = read_apart(*o);
        const Pickup result = pickup(input, picked(input, o->at), options);
        print_result(*o, pickup_text(result, o->file, o->quiet),
                     [&] { return pickup_json(result, o->file); });
        return passes;
    });
}

}  // namespace ringquell::command
