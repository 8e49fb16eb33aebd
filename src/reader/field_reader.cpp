#include "reader/field_reader.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <charconv>

#include "base/nearest.h"
#include "base/text_lines.h"
#include "reader/curves.h"
#include "reader/measured.h"
#include "reader/positions.h"

namespace ringquell::internal {

void fail_expecting(const Node& node, const std::string& path, const std::string& expected) {
    throw InputError(node.place, path, fmt::format("found {}, expected {}", found_text(node), expected));
}

double read_number(const Node& node, Dimension dimension, const std::string& path) {
    if (!node.is_scalar()) fail_expecting(node, path, expected_text(dimension));
    return parse_quantity(node.scalar, dimension, node.place, path);
}

int read_integer(const Node& node, const std::string& path, int low, int high) {
    const std::string expected = fmt::format("a whole number from {} to {}", low, high);
    if (!node.is_scalar()) fail_expecting(node, path, expected);
    int value = 0;
    const char* end = node.scalar.data() + node.scalar.size();
    const auto [stop, error] = std::from_chars(node.scalar.data(), end, value);
    if (error != std::errc() || stop != end || value < low || value > high)
        fail_expecting(node, path, expected);
    return value;
}

FieldReader::FieldReader(const Node& map, std::string path, ReadContext& context)
    : map_(map), path_(std::move(path)), context_(context) {
    if (!map.is_map()) fail_expecting(map, path_, "a map");
}

void FieldReader::fail(const Node& at, const std::string& key, const std::string& text) const {
    throw InputError(at.place, path_of(key), text);
}

const Node* FieldReader::take(const char* key, bool mandatory) {
    valid_.emplace_back(key);
    const Node* node = map_.find(key);
    if (node && !node->is_null()) return node;
    if (mandatory) missing_.emplace_back(key);
    return nullptr;
}

void FieldReader::finish() const {
    for (const auto& [key, value] : map_.entries)
        if (std::find(valid_.begin(), valid_.end(), key.text) == valid_.end())
            throw InputError(key.place, path_of(key.text), "unknown key" + suggestion(key.text, valid_));
    if (!missing_.empty()) fail(map_, "", fmt::format("the key `{}` is missing", missing_.front()));
}

double FieldReader::checked(const Node& node, const std::string& path, NumberSpec spec) const {
    const double value = spec.dimension == Dimension::inductance ? read_inductance(node, path, context_)
                                                                 : read_number(node, spec.dimension, path);
    if (spec.sign == Sign::not_negative && value < 0) fail_expecting(node, path, "no negative value");
    if (spec.sign == Sign::positive && value <= 0) fail_expecting(node, path, "a value above zero");
    constexpr double absolute_zero_degc = -273.15;
    if (spec.dimension == Dimension::temperature && value < absolute_zero_degc)
        fail_expecting(node, path, "a temperature above absolute zero");
    return value;
}

void FieldReader::number(const char* key, double& out, NumberSpec spec) {
    const Node* node = take(key, spec.mandatory);
    if (node) {
        out = checked(*node, path_of(key), spec);
    } else if (const Node* empty = map_.find(key)) {
        fail_expecting(*empty, path_of(key), expected_text(spec.dimension));
    }
}

void FieldReader::number(const char* key, std::optional<double>& out, NumberSpec spec) {
    out.reset();
    if (const Node* node = take(key)) out = checked(*node, path_of(key), spec);
}

void FieldReader::integer(const char* key, int& out) {
    // Steps of a walked path, and taps: each has its own upper bound.
    constexpr int most_steps = 10000;
    const int high = std::string_view(key) == "feed_at" ? context_.positions : most_steps;
    if (const Node* node = take(key)) out = read_integer(*node, path_of(key), 1, high);
}

void FieldReader::boolean(const char* key, bool& out) {
    const Node* node = take(key);
    if (!node) return;
    if (!node->is_scalar() || (node->scalar != "true" && node->scalar != "false"))
        fail_expecting(*node, path_of(key), "`true` or `false`");
    out = node->scalar == "true";
}

void FieldReader::text(const char* key, std::string& out) {
    const Node* node = take(key);
    if (!node) return;
    if (!node->is_scalar()) fail_expecting(*node, path_of(key), "a text");
    out = node->scalar;
}

void FieldReader::texts(const char* key, std::vector<std::string>& out) {
    const Node* node = take(key);
    if (!node) return;
    if (!node->is_list()) fail_expecting(*node, path_of(key), "a list of names");
    out.clear();
    for (size_t i = 0; i < node->items.size(); ++i) {
        if (!node->items[i].is_scalar())
            fail_expecting(node->items[i], fmt::format("{}[{}]", path_of(key), i + 1), "a name");
        out.push_back(node->items[i].scalar);
    }
}

int FieldReader::choose(const char* key, const std::vector<std::string>& names, bool mandatory) {
    const Node* node = take(key, mandatory);
    if (!node) return -1;
    const std::string expected = fmt::format("`{}`", fmt::join(names, "` or `"));
    if (!node->is_scalar()) fail_expecting(*node, path_of(key), expected);
    const auto found = std::find(names.begin(), names.end(), node->scalar);
    if (found != names.end()) return static_cast<int>(found - names.begin());
    const std::string lower = lower_case(node->scalar);
    const std::string on_or_off = lower == "on" || lower == "true" || lower == "yes"    ? "turn_on"
                                  : lower == "off" || lower == "false" || lower == "no" ? "turn_off"
                                                                                        : "";
    if (names.front() == edge_names.front() && !on_or_off.empty())
        fail_expecting(*node, path_of(key),
                       fmt::format("{}; `{}` is a boolean to many YAML tools, write `{}`", expected,
                                   node->scalar, on_or_off));
    fail_expecting(*node, path_of(key), expected);
}

void FieldReader::edges(const char* key, PerEdge& out) {
    const Node* node = take(key);
    if (!node) {
        if (const Node* empty = map_.find(key))
            fail_expecting(*empty, path_of(key), expected_text(Dimension::resistance));
        return;
    }
    if (node->is_map()) {
        FieldReader reader(*node, path_of(key), context_);
        reader.number("turn_on", out.turn_on, mandatory(ohms));
        reader.number("turn_off", out.turn_off, mandatory(ohms));
        reader.finish();
    } else {
        out.turn_on = out.turn_off = checked(*node, path_of(key), ohms);
    }
}

void FieldReader::die_resistance(const char* key, DieResistance& out, bool required) {
    const Node* node = take(key, required);
    if (!node) return;
    if (node->is_map()) {
        FieldReader reader(*node, path_of(key), context_);
        reader.number("value", out.value_ohm, mandatory(ohms));
        reader.number("at", out.at_degc, degrees_celsius);
        reader.number("per_kelvin", out.per_kelvin, any_sign({Dimension::per_kelvin}));
        reader.finish();
    } else {
        out = DieResistance{};
        out.value_ohm = checked(*node, path_of(key), ohms);
    }
}

namespace {

bool has_any(const Node& node, std::initializer_list<const char*> keys) {
    return std::any_of(keys.begin(), keys.end(), [&](const char* key) { return node.find(key) != nullptr; });
}

const char* first_of(const Node& node, std::initializer_list<const char*> keys) {
    for (const char* key : keys)
        if (node.find(key)) return key;
    return "";
}

}  // namespace

void FieldReader::channel(const char* key, Die& die) {
    const Node* node = take(key, is_mandatory);
    if (!node) return;
    die.place = node->place;
    const std::string expected =
        "one of three forms: `transconductance` and `output_conductance`; `threshold`, `gain` and "
        "`knee_voltage`; "
        "`transfer` and `knee_voltage`";
    if (!node->is_map()) fail_expecting(*node, path_of(key), expected);
    const bool fixed = has_any(*node, {"transconductance", "output_conductance"});
    const bool formula = has_any(*node, {"threshold", "gain", "exponent"});
    const bool transfer = has_any(*node, {"transfer", "threshold_shift", "gain_factor"});
    const std::string curve_key =
        first_of(*node, {"threshold", "gain", "exponent", "transfer", "threshold_shift", "gain_factor"});
    if (fixed && (formula || transfer))
        fail(*node, key,
             fmt::format("`{}` and `{}` belong to different forms; expected {}",
                         first_of(*node, {"transconductance", "output_conductance"}), curve_key, expected));
    if (formula && transfer)
        fail(*node, key,
             fmt::format("`{}` and `transfer` belong to different forms; expected {}", curve_key, expected));
    if (!fixed && !formula && !transfer) {
        const std::vector<std::string> valid{
            "transconductance", "output_conductance", "threshold",    "gain",
            "exponent",         "knee_voltage",       "output_slope", "transfer"};
        for (const auto& [name, value] : node->entries)
            if (std::find(valid.begin(), valid.end(), name.text) == valid.end())
                throw InputError(name.place, join_key(path_of(key), name.text),
                                 "unknown key" + suggestion(name.text, valid));
        fail(*node, key, "expected " + expected);
    }
    if (fixed) die.channel = FixedChannel{};
    if (formula) die.channel = FormulaChannel{};
    if (transfer) die.channel = TransferChannel{};
    read_map(*node, key, die, DescribeChannel{});
}

void FieldReader::die_capacitance(const char* key, Die& die) {
    const Node* node = take(key, is_mandatory);
    if (!node) return;
    const std::string expected = "`cgs`, `cgd` and `cds`, or a `table`, or a `file`";
    if (!node->is_map()) fail_expecting(*node, path_of(key), expected);
    const bool fixed = has_any(*node, {"cgs", "cgd", "cds"});
    const bool table = has_any(*node, {"table", "file"});
    if (fixed && table) fail(*node, key, "fixed values and curves exclude each other; expected " + expected);
    if (node->find("table") && node->find("file")) fail(*node, key, "`table` and `file` exclude each other");
    if (!fixed && !table && std::all_of(node->entries.begin(), node->entries.end(), [](const auto& e) {
            return e.key.text == "output_resistance";
        }))
        fail(*node, key, "expected " + expected);
    if (table)
        die.capacitance = CapacitanceTable{};
    else
        die.capacitance = FixedCapacitance{};
    read_map(*node, key, die, DescribeDieCapacitance{});
}

void FieldReader::transfer_curves(const char* key, std::vector<TransferCurve>& out) {
    if (const Node* node = take(key, is_mandatory)) out = read_transfer(*node, path_of(key), context_);
}

void FieldReader::capacitance_rows(const char* key, CapacitanceTable& out) {
    const Node* file = take("file");
    const Node* rows = take(key);
    CapacitanceTable table;
    if (file)
        table = read_capacitance_file(*file, path_of("file"), context_);
    else if (rows)
        table = read_capacitance_rows(*rows, path_of(key));
    else
        missing_.emplace_back(key);
    out.rows = std::move(table.rows);
    out.place = table.place;
}

void FieldReader::complementary_capacitance(const char* key, ComplementaryDevice& out) {
    const Node* node = take(key);
    out.curve.reset();
    if (!node) return;
    if (!node->is_map()) {
        out.capacitance_f = checked(*node, path_of(key), farads);
        return;
    }
    out.curve.emplace();
    out.curve->place = node->place;
    out.curve->points = read_curve(*node, path_of(key), Dimension::voltage, Dimension::capacitance, context_);
    for (const auto& [voltage, capacitance] : out.curve->points)
        if (voltage < 0 || capacitance <= 0)
            fail(*node, key,
                 fmt::format("found {} at {}; expected capacitances above zero, at voltages from 0 V on",
                             engineering(capacitance, Dimension::capacitance),
                             engineering(voltage, Dimension::voltage)));
}

void FieldReader::sections(std::vector<BeadSection>& out) {
    const Node* list = take("sections");
    if (!list) {
        BeadSection section;
        describe(*this, section);
        out = {section};
        return;
    }
    // Known keys here, so that the message is not "unknown key".
    for (const char* key : {"resistance", "inductance"})
        if (const Node* single = take(key)) fail(*single, key, "found beside `sections`, which replaces it");
    const std::string path = path_of("sections");
    if (!list->is_list() || list->items.empty())
        fail_expecting(*list, path, "a list of sections, each {resistance, inductance}");
    out.clear();
    for (size_t i = 0; i < list->items.size(); ++i) {
        FieldReader reader(list->items[i], fmt::format("{}[{}]", path, i + 1), context_);
        describe(reader, out.emplace_back());
        reader.finish();
    }
}

void FieldReader::pairs(const char* key, std::vector<std::pair<double, double>>& out, Dimension first,
                        Dimension second) {
    out.clear();
    const Node* node = take(key);
    if (!node) return;
    out = read_pairs(*node, path_of(key), first, second);
    for (size_t i = 0; i < out.size(); ++i)
        if (out[i].first < 0 || out[i].second <= 0 || out[i].second > 1)
            fail(*node, fmt::format("{}[{}]", key, i + 1),
                 "expected a bias that is not negative and a share above 0, up to 1");
}

void FieldReader::segments(const char* key, std::vector<double>& out, Dimension dimension) {
    const size_t count = static_cast<size_t>(context_.positions) - 1;
    out.assign(count, 0.0);
    const Node* node = take(key);
    if (!node) return;
    if (!node->is_list() || dimension != Dimension::inductance || node->items.size() == count ||
        (!node->items.empty() && node->items.front().is_scalar())) {
        if (!node->is_list()) {
            out.assign(count, checked(*node, path_of(key), NumberSpec{dimension}));
            return;
        }
        if (node->items.size() != count)
            fail(*node, key,
                 fmt::format("found {} values, expected one for each of the {} segments between {} positions",
                             node->items.size(), count, context_.positions));
        for (size_t i = 0; i < count; ++i)
            out[i] =
                checked(node->items[i], fmt::format("{}[{}]", path_of(key), i + 1), NumberSpec{dimension});
        return;
    }
    // A list of maps that is not one per segment: a shape in series, the same for every segment.
    out.assign(count, read_inductance(*node, path_of(key), context_));
}

void FieldReader::temperatures(const char* key, std::vector<double>& out) {
    const Node* node = take(key);
    if (!node) return;
    if (!node->is_list()) {
        out = {checked(*node, path_of(key), degrees_celsius)};
        return;
    }
    if (node->items.empty()) fail_expecting(*node, path_of(key), "one temperature or more");
    out.clear();
    for (size_t i = 0; i < node->items.size(); ++i)
        out.push_back(checked(node->items[i], fmt::format("{}[{}]", path_of(key), i + 1), degrees_celsius));
}

void FieldReader::durations(const char* key, std::map<std::string, double>& out) {
    const Node* node = take(key);
    if (!node) return;
    if (!node->is_map()) fail_expecting(*node, path_of(key), "a map from stage to time");
    static const std::vector<std::string> stages{walk_stages.begin(), walk_stages.end()};
    out.clear();
    for (const auto& [stage, value] : node->entries) {
        const std::string path = join_key(path_of(key), stage.text);
        if (std::find(stages.begin(), stages.end(), stage.text) == stages.end())
            throw InputError(stage.place, path, "unknown stage" + suggestion(stage.text, stages));
        out[stage.text] = checked(value, path, positive({Dimension::time}));
    }
}

void FieldReader::limits(const char* key, double& low, double& high, Dimension dimension) {
    const Node* node = take(key);
    if (!node) return;
    const std::string path = path_of(key);
    if (!node->is_list() || node->items.size() != 2)
        fail_expecting(*node, path, "a list of two, [low, high]");
    low = read_number(node->items[0], dimension, path + "[1]");
    high = read_number(node->items[1], dimension, path + "[2]");
    if (!(low > 0 && high > low))
        fail(*node, key,
             fmt::format("found [{}, {}], expected low above zero and high above low",
                         engineering(low, dimension), engineering(high, dimension)));
}

void FieldReader::block(const char* key, std::optional<Bead>& out) {
    out.reset();
    if (const Node* node = take(key)) out = read_bead(*node, path_of(key), context_);
}

void FieldReader::block(const char* key, Device& out, bool required) {
    if (const Node* node = take(key, required)) out = read_device(*node, path_of(key), context_);
}

}  // namespace ringquell::internal
