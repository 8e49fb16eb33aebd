#include "ringquell/record_points.h"

#include <fmt/format.h>

#include "case/enum_names.h"
#include "devices/find_point.h"
#include "ringquell/ports.h"
#include "ringquell/quantity.h"

namespace ringquell {

using namespace internal;

namespace {

std::string words(const BenchPoint& p) {
    return fmt::format("{}, {}, {}, {}", name_of(p.edge), engineering(p.vds_v, Dimension::voltage),
                       engineering(p.current_a, Dimension::current), name_of(p.complementary));
}

OperatingPoint own_point(const BenchRecord& record, const Case& input) {
    const BenchPoint& given = *record.given;
    Point point;
    point.name = words(given);
    point.edge = given.edge;
    point.vds_v = given.vds_v;
    point.current_a = given.current_a;
    point.complementary = given.complementary;
    point.place = record.at_place;
    Case alone = input;
    alone.operation.points = {point};
    alone.operation.path.reset();
    try {
        return operating_path(alone).points.front();
    } catch (const InputError& error) {
        // It was no point of the case before, so that the case is not to blame.
        throw InputError(record.at_place, record.key + ".at", error.text());
    }
}

}  // namespace

OperatingPoint locate(const BenchRecord& record, const Case& input, const OperatingPath& path) {
    if (record.unpowered) return unpowered_point(input);
    if (record.given) return own_point(record, input);
    return path.points[find_point(path.points, record.point, record.at_place, record.key + ".at.point")];
}

OperatingPoint locate(const BenchRecord& record, const Case& input) {
    if (!record.unpowered && !record.given)
        if (std::optional<OperatingPoint> found = operating_point(input, record.point))
            return std::move(*found);
    return locate(record, input, record.unpowered || record.given ? OperatingPath{} : operating_path(input));
}

Case while_measured(const Case& input, const BenchFile& bench, const BenchRecord& record) {
    Case out = input;
    for (const Probe& probe : bench.probes)
        if (probe.name == record.probe) out.probes = {probe};
    if (record.driver_high_impedance) out.driver.pull_down_resistance_ohm = unsupplied_driver_ohm;
    return out;
}

}  // namespace ringquell
