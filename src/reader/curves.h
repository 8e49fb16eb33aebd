// Curves and tables: lists in the case, or files of columns. A file's first line that is neither empty nor a
// comment (`#`) names the columns with their units, `vds_V,ciss_F` or `vds (V); ciss (pF)`; semicolons, tabs
// or commas part them, whichever of these the line has, in this order.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "reader/document.h"
#include "reader/read_context.h"
#include "ringquell/quantity.h"

namespace ringquell::internal {

/// `[[5 V, 2 A], ...]`, the first of each strictly rising.
std::vector<std::pair<double, double>> read_pairs(const Node& node, const std::string& path, Dimension first,
                                                  Dimension second);
/// `{points: [[5 V, 2 A], ...]}` or `{file: x.csv}`: two columns, the first strictly rising.
std::vector<std::pair<double, double>> read_curve(const Node& node, const std::string& path, Dimension first,
                                                  Dimension second, ReadContext& context);
/// One curve, a list of curves, or a map from temperatures to curves; rising in temperature.
std::vector<TransferCurve> read_transfer(const Node& node, const std::string& path, ReadContext& context);
CapacitanceTable read_capacitance_file(const Node& file, const std::string& path, ReadContext& context);
CapacitanceTable read_capacitance_rows(const Node& list, const std::string& path);

}  // namespace ringquell::internal
