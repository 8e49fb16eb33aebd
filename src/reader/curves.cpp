#include "reader/curves.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/columns.h"
#include "base/nearest.h"
#include "base/text_lines.h"
#include "reader/field_reader.h"

namespace ringquell::internal {
namespace {

using Pairs = std::vector<std::pair<double, double>>;

struct Column {
    std::string name;
    std::string unit;
};

struct Cells {
    int line = 0;
    std::vector<std::string> cells;
};

struct ColumnFile {
    std::string path;
    int header_line = 0;
    std::vector<Column> columns;
    std::vector<Cells> rows;
};

std::string bare(std::string_view cell) {
    return std::string(trimmed(cell, " \t\""));
}

Column split_header(const std::string& cell) {
    for (const auto& [open, close] : {std::pair{'(', ')'}, std::pair{'[', ']'}})
        if (const size_t at = cell.find(open); at != std::string::npos && cell.back() == close)
            return {bare(cell.substr(0, at)), bare(cell.substr(at + 1, cell.size() - at - 2))};
    const size_t at = cell.find_last_of("_ ");
    if (at == std::string::npos) return {cell, ""};
    return {bare(cell.substr(0, at)), bare(cell.substr(at + 1))};
}

ColumnFile read_columns(const Node& file, const std::string& path, ReadContext& context) {
    if (!file.is_scalar()) fail_expecting(file, path, "the path of a file");
    ColumnFile out;
    out.path = beside(file.scalar, file.place, context);
    const std::string text = read_named_file(out.path, file.place, path, context);
    refuse_utf16(text, out.path);
    const ColumnText cut = columns_of(text, ";\t,");
    if (cut.header.line == 0) throw InputError({out.path, 0, 0}, "", "the file is empty");
    out.header_line = cut.header.line;
    for (const Word& field : cut.header.fields) out.columns.push_back(split_header(bare(field.text)));
    for (const FieldLine& line : cut.rows) {
        if (line.fields.size() != out.columns.size())
            throw InputError({out.path, line.line, 1}, "",
                             fmt::format("found {} values in the row, expected {}{}", line.fields.size(),
                                         out.columns.size(),
                                         cut.separator == ',' && line.fields.size() > out.columns.size()
                                             ? " (a decimal comma parts the columns, too: write points)"
                                             : ""));
        Cells& row = out.rows.emplace_back();
        row.line = line.line;
        for (const Word& field : line.fields) row.cells.push_back(bare(field.text));
    }
    return out;
}

/// Which column holds a unit of `dimension`, where units alone tell.
size_t column_of(const ColumnFile& file, Dimension dimension, std::string_view name) {
    const auto holds = [&](const Column& column) {
        try {
            parse_quantity("1 " + column.unit, dimension);
            return !column.unit.empty();
        } catch (const InputError&) {
            return false;
        }
    };
    for (size_t i = 0; i < file.columns.size(); ++i)
        if ((name.empty() || file.columns[i].name == name) && holds(file.columns[i])) return i;
    std::string found;
    for (const Column& c : file.columns) found += (found.empty() ? "" : ", ") + c.name + " (" + c.unit + ")";
    throw InputError(
        {file.path, file.header_line, 1}, "",
        fmt::format("found the columns {}; expected a header line with {} column{}, as in `{} ({})`", found,
                    name.empty() ? "a" : "a `" + std::string(name) + "`",
                    name.empty() ? fmt::format(" of {}", unit_name(dimension)) : "",
                    name.empty() ? "name" : name, unit_name(dimension)));
}

double cell(const ColumnFile& file, const Cells& row, size_t column, Dimension dimension) {
    return parse_quantity(row.cells[column] + " " + file.columns[column].unit, dimension,
                          {file.path, row.line, 1}, file.columns[column].name);
}

void check_rising(const Pairs& points, const Node& node, const std::string& path) {
    if (points.size() < 2) throw InputError(node.place, path, "a curve needs two points or more");
    for (size_t i = 1; i < points.size(); ++i)
        if (points[i].first <= points[i - 1].first)
            throw InputError(node.place, fmt::format("{}[{}]", path, i + 1),
                             "the points must rise in their first column, each above the one before");
}

/// A curve and where each of its points stands: in the list, or in a file's line under a column's name.
struct PlacedCurve {
    Pairs points;
    std::vector<Place> places;
    std::string second_column;  // of a file
};

PlacedCurve read_placed_curve(const Node& node, const std::string& path, Dimension first, Dimension second,
                              ReadContext& context) {
    if (!node.is_map()) fail_expecting(node, path, "`points` or a `file`");
    const Node* points = node.find("points");
    const Node* file = node.find("file");
    for (const auto& [key, value] : node.entries)
        if (key.text != "points" && key.text != "file")
            throw InputError(key.place, join_key(path, key.text),
                             "unknown key" + suggestion(key.text, {"points", "file"}));
    if (!points == !file) throw InputError(node.place, path, "expected `points` or a `file`, one of them");
    PlacedCurve out;
    if (points) {
        out.points = read_pairs(*points, join_key(path, "points"), first, second);
        check_rising(out.points, *points, join_key(path, "points"));
        for (const Node& pair : points->items) out.places.push_back(pair.place);
        return out;
    }
    const ColumnFile columns = read_columns(*file, join_key(path, "file"), context);
    const size_t x = column_of(columns, first, ""), y = column_of(columns, second, "");
    out.second_column = columns.columns[y].name;
    for (const Cells& row : columns.rows) {
        out.points.emplace_back(cell(columns, row, x, first), cell(columns, row, y, second));
        out.places.push_back({columns.path, row.line, 1});
        const size_t n = out.points.size();
        if (n > 1 && out.points[n - 1].first <= out.points[n - 2].first)
            throw InputError(out.places.back(), columns.columns[x].name,
                             "the rows must rise in this column, each above the one before");
    }
    if (out.points.size() < 2) throw InputError({columns.path, 0, 0}, "", "a curve needs two points or more");
    return out;
}

TransferCurve read_transfer_curve(const Node& node, const std::string& path, ReadContext& context) {
    TransferCurve curve;
    curve.place = node.place;
    if (!node.is_map()) fail_expecting(node, path, "`points` or a `file`");
    Node rest = node;
    if (const Node* temperature = rest.find("junction_temperature")) {
        curve.junction_temperature_degc =
            read_number(*temperature, Dimension::temperature, join_key(path, "junction_temperature"));
        rest.erase("junction_temperature");
    }
    PlacedCurve read = read_placed_curve(rest, path, Dimension::voltage, Dimension::current, context);
    for (size_t i = 0; i < read.points.size(); ++i)
        if (read.points[i].second < 0 || (i > 0 && read.points[i].second < read.points[i - 1].second))
            throw InputError(
                read.places[i],
                read.second_column.empty() ? fmt::format("{}.points[{}]", path, i + 1) : read.second_column,
                "the current of a transfer curve is not negative and never falls");
    curve.points = std::move(read.points);
    return curve;
}

/// `places` of the rows; their keys are those of the list at `path`, or none in a file, where it is empty.
void check_rows(const CapacitanceTable& table, const Place& place, const std::vector<Place>& places,
                const std::string& path) {
    const std::vector<CapacitanceTable::Row>& rows = table.rows;
    if (rows.size() < 2) throw InputError(place, path, "a table needs two rows or more");
    for (size_t i = 0; i < rows.size(); ++i) {
        const std::string row = path.empty() ? "" : fmt::format("{}[{}]", path, i + 1);
        if (rows[i].vds_v < 0) throw InputError(places[i], row, "vds must not be negative");
        if (i > 0 && rows[i].vds_v <= rows[i - 1].vds_v)
            throw InputError(places[i], row, "the rows must rise in vds, each above the one before");
        if (rows[i].crss_f <= 0 || !table.holds_reverse_capacitance(rows[i]))
            throw InputError(places[i], row, "crss must be above zero, and not larger than ciss or coss");
    }
}

}  // namespace

Pairs read_pairs(const Node& node, const std::string& path, Dimension first, Dimension second) {
    const std::string expected =
        fmt::format("a list of pairs, {} and {}", expected_text(first), expected_text(second));
    if (!node.is_list() || node.items.empty()) fail_expecting(node, path, expected);
    Pairs out;
    for (size_t i = 0; i < node.items.size(); ++i) {
        const Node& pair = node.items[i];
        const std::string name = fmt::format("{}[{}]", path, i + 1);
        if (!pair.is_list() || pair.items.size() != 2)
            fail_expecting(pair, name,
                           fmt::format("a pair, {} and {}", expected_text(first), expected_text(second)));
        out.emplace_back(read_number(pair.items[0], first, name), read_number(pair.items[1], second, name));
        if (i > 0 && out[i].first <= out[i - 1].first)
            throw InputError(pair.place, name,
                             "the points must rise in their first value, each above the one before");
    }
    return out;
}

Pairs read_curve(const Node& node, const std::string& path, Dimension first, Dimension second,
                 ReadContext& context) {
    return read_placed_curve(node, path, first, second, context).points;
}

std::vector<TransferCurve> read_transfer(const Node& node, const std::string& path, ReadContext& context) {
    std::vector<TransferCurve> out;
    if (node.is_list()) {
        for (size_t i = 0; i < node.items.size(); ++i)
            out.push_back(read_transfer_curve(node.items[i], fmt::format("{}[{}]", path, i + 1), context));
    } else if (node.is_map() && !node.entries.empty() && !node.find("points") && !node.find("file")) {
        for (const auto& [key, value] : node.entries) {  // keyed by temperature
            const std::string name = join_key(path, key.text);
            const double temperature = parse_quantity(key.text, Dimension::temperature, key.place, name);
            out.push_back(read_transfer_curve(value, name, context));
            out.back().junction_temperature_degc = temperature;
        }
    } else {
        out.push_back(read_transfer_curve(node, path, context));
    }
    if (out.empty()) fail_expecting(node, path, "one curve or more");
    if (out.size() > 1)
        for (const TransferCurve& curve : out)
            if (!curve.junction_temperature_degc)
                throw InputError(curve.place, path,
                                 "of several curves each needs its `junction_temperature`");
    std::stable_sort(out.begin(), out.end(), [](const TransferCurve& a, const TransferCurve& b) {
        return a.junction_temperature_degc < b.junction_temperature_degc;
    });
    for (size_t i = 1; i < out.size(); ++i)
        if (out[i].junction_temperature_degc == out[i - 1].junction_temperature_degc)
            throw InputError(out[i].place, path, "two curves have the same `junction_temperature`");
    return out;
}

CapacitanceTable read_capacitance_rows(const Node& list, const std::string& path) {
    CapacitanceTable out;
    out.place = list.place;
    if (!list.is_list()) fail_expecting(list, path, "a list of rows, each {vds, ciss, coss, crss}");
    ReadContext nothing;
    std::vector<Place> places;
    for (size_t i = 0; i < list.items.size(); ++i) {
        FieldReader reader(list.items[i], fmt::format("{}[{}]", path, i + 1), nothing);
        CapacitanceTable::Row& row = out.rows.emplace_back();
        reader.number("vds", row.vds_v, mandatory(any_sign(volts)));
        reader.number("ciss", row.ciss_f, mandatory(farads));
        reader.number("coss", row.coss_f, mandatory(farads));
        reader.number("crss", row.crss_f, mandatory(farads));
        reader.finish();
        places.push_back(list.items[i].place);
    }
    check_rows(out, list.place, places, path);
    return out;
}

CapacitanceTable read_capacitance_file(const Node& file, const std::string& path, ReadContext& context) {
    const ColumnFile columns = read_columns(file, path, context);
    CapacitanceTable out;
    out.place = file.place;
    const size_t vds = column_of(columns, Dimension::voltage, "vds");
    const size_t ciss = column_of(columns, Dimension::capacitance, "ciss");
    const size_t coss = column_of(columns, Dimension::capacitance, "coss");
    const size_t crss = column_of(columns, Dimension::capacitance, "crss");
    std::vector<Place> places;
    for (const Cells& row : columns.rows) {
        places.push_back({columns.path, row.line, 1});
        out.rows.push_back({cell(columns, row, vds, Dimension::voltage),
                            cell(columns, row, ciss, Dimension::capacitance),
                            cell(columns, row, coss, Dimension::capacitance),
                            cell(columns, row, crss, Dimension::capacitance)});
    }
    check_rows(out, {columns.path, 0, 0}, places, "");
    return out;
}

}  // namespace ringquell::internal
