#include "parts/impedance_rows.h"

#include <fmt/format.h>

#include "ringquell/quantity.h"

namespace ringquell::internal {

void ImpedanceRows::add(const ImpedancePoint& point, int line, int column) {
    ++rows_;
    if (points_.empty() || point.frequency_hz > points_.back().frequency_hz) {
        points_.push_back(point);
        alike_ = 1;
        return;
    }
    ImpedancePoint& last = points_.back();
    if (point.frequency_hz < last.frequency_hz)
        throw InputError({file_, line, column}, "",
                         fmt::format("found {} Hz after {} Hz; expected rising frequencies",
                                     point.frequency_hz, last.frequency_hz));
    ++alike_;
    last.impedance_ohm += (point.impedance_ohm - last.impedance_ohm) / static_cast<double>(alike_);
    last.passive = (last.passive && point.passive) ||
                   ((last.passive || point.passive) && last.impedance_ohm.real() >= 0);
    if (merged_++ > 0) return;
    first_line_ = line;
    first_hz_ = point.frequency_hz;
}

void ImpedanceRows::add_warnings(std::vector<Warning>& warnings) const {
    if (merged_ == 0) return;
    const std::string frequency = engineering(first_hz_, Dimension::frequency, 9);
    warnings.push_back(
        {"curve", merged_ == 1
                      ? fmt::format("line {} has the frequency of the row before it, {}: the mean of both is "
                                    "used",
                                    first_line_, frequency)
                      : fmt::format("{} rows have the frequency of the row before them, the first in line {} "
                                    "({}): the mean of such rows is used",
                                    merged_, first_line_, frequency)});
}

}  // namespace ringquell::internal
