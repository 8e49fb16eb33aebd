#include "reader/operation.h"

#include <fmt/format.h>

#include <algorithm>

#include "base/nearest.h"
#include "case/describe_measured.h"
#include "reader/field_reader.h"
#include "reader/merge.h"

namespace ringquell::internal {
namespace {

/// The devices at a point: one where all positions are alike, else one for each.
std::vector<Device> gather(const std::vector<Device>& distinct, const std::vector<size_t>& device_of) {
    if (std::all_of(distinct.begin(), distinct.end(), [&](const Device& d) { return d == distinct.front(); }))
        return {distinct.front()};
    std::vector<Device> out;
    out.reserve(device_of.size());
    for (const size_t k : device_of) out.push_back(distinct[k]);
    return out;
}

std::vector<Device> read_point_devices(const Node* over, const Node* list, const std::string& path,
                                       const DeviceTrees& trees, ReadContext& context) {
    std::vector<Device> out;
    if (over && list)
        throw InputError(list->place, path + ".devices", "found beside `device`, which excludes it");
    if (over) {
        if (!over->is_map()) fail_expecting(*over, path + ".device", "a map");
        for (const Node& base : trees.devices)
            out.push_back(read_device(lay_over(base, *over, "device"), path + ".device", context));
        return gather(out, trees.device_of);
    }
    if (list) {
        const std::string key = path + ".devices";
        const size_t n = static_cast<size_t>(context.positions);
        if (!list->is_list() || (list->items.size() != 1 && list->items.size() != n))
            fail_expecting(*list, key,
                           fmt::format("a list of one device, or of {}, one for each position", n));
        for (size_t i = 0; i < list->items.size(); ++i)
            out.push_back(read_device(list->items[i], fmt::format("{}[{}]", key, i + 1), context));
        if (std::all_of(out.begin(), out.end(), [&](const Device& d) { return d == out.front(); }))
            out.resize(1);
    }
    return out;
}

std::vector<Point> read_points(const Node& list, const DeviceTrees& trees, ReadContext& context) {
    std::vector<Point> out;
    if (!list.is_list()) fail_expecting(list, "operation.points", "a list");
    std::map<std::string, size_t> seen;
    for (size_t i = 0; i < list.items.size(); ++i) {
        const std::string path = fmt::format("operation.points[{}]", i + 1);
        FieldReader reader(list.items[i], path, context);
        Point point;
        point.place = list.items[i].place;
        point.name = fmt::format("point {}", i + 1);
        describe(reader, point);
        const bool has_block = list.items[i].find("device") != nullptr;
        const Node* over = reader.take("device");
        const Node* devices = reader.take("devices");
        reader.finish();
        const Node empty = make_map(point.place);
        point.devices = read_point_devices(has_block && !over ? &empty : over, devices, path, trees, context);
        const auto [first, fresh] = seen.emplace(point.name, i + 1);
        if (!fresh)
            throw InputError(
                point.place, path + ".name",
                fmt::format("`{}` is the name of operation.points[{}], too", point.name, first->second));
        out.push_back(std::move(point));
    }
    return out;
}

}  // namespace

Operation read_operation(const Node& node, const DeviceTrees& trees, ReadContext& context) {
    FieldReader reader(node, "operation", context);
    Operation out;
    out.place = node.place;
    describe(reader, out);
    std::optional<double> peak;
    reader.number("peak_current", peak, positive(amperes));
    const Node* points = reader.take("points");
    reader.finish();
    if (points) out.points = read_points(*points, trees, context);
    // `path:` with nothing behind it asks for the default path, and a case with neither has it.
    if (!out.path && (out.points.empty() || node.find("path"))) out.path = Path{};
    if (peak) {
        if (!out.path)
            reader.fail(*node.find("peak_current"), "peak_current",
                        "belongs to a `path`, which this case has not");
        if (out.path->peak_current_a)
            reader.fail(*node.find("peak_current"), "peak_current", "is given in `path`, too");
        out.path->peak_current_a = peak;
    }
    if (out.soft_turn_off && out.soft_turn_off->current_a && !out.load_current_a)
        reader.fail(node, "soft_turn_off", "has a current, but the switch has no `load_current`");
    if (out.path) {
        if (!out.bus_voltage_v)
            reader.fail(node, "", "the key `bus_voltage` is missing; the switching path ends there");
        if (!out.load_current_a)
            reader.fail(node, "", "the key `load_current` is missing; the switching path ends there");
        if (out.path->peak_current_a && *out.path->peak_current_a < *out.load_current_a)
            reader.fail(node, "peak_current", "is below `load_current`");
    }
    return out;
}

Requirement read_requirement(const Node& node, ReadContext& context) {
    FieldReader reader(node, "require", context);
    Requirement out;
    describe(reader, out);
    reader.finish();
    const auto below_one = [&](const char* key, double value) {
        if (value >= 1) fail_expecting(*node.find(key), join_key("require", key), "a damping ratio below 1");
    };
    below_one("differential_damping", out.differential_damping);
    if (out.common_damping) below_one("common_damping", *out.common_damping);
    if (out.passing_growth < 1)
        fail_expecting(*node.find("passing_growth"), "require.passing_growth",
                       "a factor of 1 or more: what a disturbance may grow to in one passage");
    if (node.find("worst_damping")) below_one("worst_damping", out.worst_damping);
    if (out.passive_damping) below_one("passive_damping", *out.passive_damping);
    if (out.pass_share >= 1)
        fail_expecting(*node.find("pass_share"), "require.pass_share",
                       "a share below 1: no number of samples can show that all pass");
    if (out.gain_margin && *out.gain_margin < 1)
        fail_expecting(*node.find("gain_margin"), "require.gain_margin", "a factor of 1 or more");
    return out;
}

namespace {

/// The stages that the case walks.
std::vector<std::string> stages_of(const Case& read) {
    std::vector<std::string> out;
    if (!read.operation.path) return out;
    const Device& device = read.positions.front().device;
    const bool cascode = device.kind == DeviceKind::cascode;
    const bool fixed = std::holds_alternative<FixedChannel>(device.mosfet.channel);
    for (const std::string stage : walk_stages) {
        const bool inner = stage.ends_with(" onset") || stage.ends_with(" plateau");
        if (inner && !cascode) continue;
        if (stage.ends_with(" plateau") && fixed) continue;
        if (stage.ends_with(" peak") && !read.operation.path->peak_current_a) continue;
        out.push_back(stage);
    }
    return out;
}

}  // namespace

void check_judge_held(const Node& require, const Case& read) {
    const std::vector<std::string>& names = read.require.judge_held;
    std::vector<std::string> valid = stages_of(read);
    valid.emplace_back("all");
    for (size_t i = 0; i < names.size(); ++i)
        if (std::find(valid.begin(), valid.end(), names[i]) == valid.end())
            throw InputError(
                require.find("judge_held")->items[i].place, fmt::format("require.judge_held[{}]", i + 1),
                fmt::format("`{}` is no stage of this case", names[i]) + suggestion(names[i], valid));
}

std::vector<MeasuredRing> read_measured_rings(const Node& list, ReadContext& context) {
    if (!list.is_list()) fail_expecting(list, "measured", "a list of rings, each with `frequency` and `at`");
    std::vector<MeasuredRing> out;
    for (size_t i = 0; i < list.items.size(); ++i) {
        const Node& item = list.items[i];
        const std::string path = fmt::format("measured[{}]", i + 1);
        FieldReader reader(item, path, context);
        MeasuredRing ring;
        describe(reader, ring);
        reader.finish();
        if (ring.at.empty()) throw InputError(item.place, path, "the key `at` is missing");
        if (ring.decay_s && ring.damping_ratio)
            throw InputError(item.find("damping")->place, path + ".damping",
                             "found beside `decay`; expected one of the two");
        if (!ring.decay_s && !ring.damping_ratio)
            throw InputError(item.place, path,
                             "found neither `decay` nor `damping`; expected one of the two");
        if (ring.damping_ratio && *ring.damping_ratio >= 1)
            fail_expecting(*item.find("damping"), path + ".damping", "a damping ratio below 1");
        ring.place = item.find("at")->place;
        out.push_back(std::move(ring));
    }
    return out;
}

void check_channels(const Case& read) {
    const auto check = [&](const std::vector<const Device*>& devices, const Place& place,
                           const std::string& key) {
        bool any_fixed[2] = {false, false}, any_curve[2] = {false, false};
        for (const Device* d : devices) {
            const int dice = d->kind == DeviceKind::cascode ? 2 : 1;
            for (int k = 0; k < dice; ++k)
                (std::holds_alternative<FixedChannel>((k == 0 ? d->mosfet : d->jfet).channel)
                     ? any_fixed
                     : any_curve)[k] = true;
        }
        for (int k = 0; k < 2; ++k)
            if (any_fixed[k] && any_curve[k])
                throw InputError(
                    place, key,
                    "devices given by fixed values cannot share a current with devices given by curves");
        return any_curve[0] || any_curve[1];
    };
    std::vector<const Device*> own;
    for (const Position& p : read.positions) own.push_back(&p.device);
    for (size_t i = 0; i < read.operation.points.size(); ++i) {
        const Point& point = read.operation.points[i];
        std::vector<const Device*> devices;
        for (const Device& d : point.devices) devices.push_back(&d);
        check(devices.empty() ? own : devices, point.place, fmt::format("operation.points[{}]", i + 1));
    }
    if (!read.operation.path) return;
    if (check(own, own.front()->mosfet.place, "device") && !read.operation.drive)
        throw InputError(
            read.operation.place, "operation",
            "the key `drive` is missing; the path of a device given by curves starts at `drive.high`");
}

}  // namespace ringquell::internal
