#include "reader/datasheet.h"

#include <fmt/format.h>

#include "reader/curves.h"
#include "reader/field_reader.h"
#include "reader/kinds.h"

namespace ringquell::internal {

namespace {

/// The keys that are plain numbers.
template <class V>
void describe_numbers(V& v, Datasheet& d) {
    v.number("rated_voltage", d.rated_voltage_v, positive(volts));
    v.number("rated_current", d.rated_current_a, positive(amperes));
    v.number("threshold", d.threshold_v, any_sign(volts));
    v.number("on_resistance", d.on_resistance_ohm, positive(ohms));
    v.number("gate_resistance", d.gate_resistance_ohm, positive(ohms));
}

void read_package(const Node& node, Datasheet& out, ReadContext& context) {
    FieldReader reader(node, "package", context);
    reader.number("gate", out.package.gate_h, henries);
    reader.number("drain", out.package.drain_h, henries);
    reader.number("source", out.package.source_h, henries);
    reader.number("kelvin", out.package.kelvin_h, henries);
    reader.finish();
    if (out.package.kelvin_h && out.leads == 3)
        reader.fail(*node.find("kelvin"), "kelvin", "found beside `leads: 3`, which has no Kelvin lead");
}

void read_drive(const Node& node, Datasheet& out, ReadContext& context) {
    FieldReader reader(node, "gate_voltage", context);
    reader.number("high", out.drive_high_v, any_sign(volts));
    reader.number("low", out.drive_low_v, any_sign(volts));
    reader.finish();
    if (out.drive_high_v && out.drive_low_v && *out.drive_low_v >= *out.drive_high_v)
        reader.fail(node, "", "found `low` not below `high`");
}

/// `{vds, ciss, coss, crss}`, `{table: [...]}` or `{file: ...}`.
void read_capacitance(const Node& node, Datasheet& out, ReadContext& context) {
    FieldReader reader(node, "capacitance", context);
    const Node* table = reader.take("table");
    const Node* file = reader.take("file");
    std::optional<double> vds, ciss, coss, crss;
    reader.number("vds", vds, volts);
    reader.number("ciss", ciss, positive(farads));
    reader.number("coss", coss, positive(farads));
    reader.number("crss", crss, positive(farads));
    reader.number("gate_voltage", out.capacitance_gate_v, any_sign(volts));
    reader.finish();
    const bool row = vds || ciss || coss || crss;
    if ((table != nullptr) + (file != nullptr) + row != 1)
        reader.fail(node, "", "expected `vds` with `ciss`, `coss` and `crss`, or a `table`, or a `file`");
    if (table) out.capacitance = read_capacitance_rows(*table, "capacitance.table").rows;
    if (file) out.capacitance = read_capacitance_file(*file, "capacitance.file", context).rows;
    if (!row) return;
    for (const auto& [key, value] : {std::pair{"vds", &vds}, std::pair{"ciss", &ciss},
                                     std::pair{"coss", &coss}, std::pair{"crss", &crss}})
        if (!*value) reader.fail(node, "", fmt::format("the key `{}` is missing", key));
    if (*crss >= *ciss || *crss >= *coss)
        reader.fail(*node.find("crss"), "crss",
                    fmt::format("found {}, expected less than ciss and coss: it is a part of both",
                                engineering(*crss, Dimension::capacitance)));
    out.capacitance = {{*vds, *ciss, *coss, *crss}};
}

void read_channel(FieldReader& reader, Datasheet& out, ReadContext& context) {
    const Node* points = reader.take("points");
    const Node* transfer = reader.take("transfer");
    if (points && transfer) reader.fail(*points, "points", "found beside `transfer`, which replaces them");
    if (transfer) out.transfer = read_transfer(*transfer, "transfer", context);
    if (!points) return;
    out.points = read_pairs(*points, "points", Dimension::voltage, Dimension::current);
    if (!out.threshold_v)
        reader.fail(*points, "points",
                    "found without a `threshold`, from which the channel's formula counts");
    for (size_t i = 0; i < out.points.size(); ++i) {
        const auto& [v, a] = out.points[i];
        const bool rises = i == 0 || (v > out.points[i - 1].first && a > out.points[i - 1].second);
        if (!(v > *out.threshold_v) || !(a > 0) || !rises)
            reader.fail(points->items[i], fmt::format("points[{}]", i + 1),
                        fmt::format("found [{}, {}], expected voltages above the threshold, {}, and currents "
                                    "above zero, both rising",
                                    engineering(v, Dimension::voltage), engineering(a, Dimension::current),
                                    engineering(*out.threshold_v, Dimension::voltage)));
    }
}

}  // namespace

Datasheet read_datasheet(const std::string& file, std::vector<std::string>* files_read) {
    ReadContext context;
    context.main_file = file;
    const Node root = parse_document(read_named_file(file, {}, "", context), file);
    if (root.is_null()) throw InputError({file, 0, 0}, "", "the file is empty");
    if (!root.is_map()) fail_expecting(root, "", "a map of what a datasheet states, `kind: mosfet` first");
    if (const Node* version = root.find("ringquell"))
        throw InputError(version->place, "ringquell",
                         "found a case, expected what a datasheet states (docs/starter.md)");
    if (const Node* kind = root.find("kind"); kind && kind->is_scalar())
        refuse_igbt(kind->scalar, kind->place, "kind");
    FieldReader reader(root, "", context);
    Datasheet out;
    const Node* threshold = root.find("threshold");
    out.place = threshold ? threshold->place : root.place;
    reader.choice("kind", out.kind, kind_names, is_mandatory);
    reader.text("title", out.title);
    describe_numbers(reader, out);
    if (out.kind == DeviceKind::jfet && out.threshold_v && *out.threshold_v >= 0)
        fail_expecting(*threshold, "threshold", "a voltage below 0 V: a JFET here is normally on");
    if (const Node* leads = reader.take("leads")) out.leads = read_integer(*leads, "leads", 3, 4);
    read_channel(reader, out, context);
    if (const Node* node = reader.take("gate_voltage")) read_drive(*node, out, context);
    if (const Node* node = reader.take("capacitance")) read_capacitance(*node, out, context);
    if (const Node* node = reader.take("package")) read_package(*node, out, context);
    reader.finish();
    if (files_read)
        files_read->insert(files_read->end(), context.files_read.begin(), context.files_read.end());
    return out;
}

}  // namespace ringquell::internal
