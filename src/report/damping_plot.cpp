// Damping along the path as a few lines of a terminal.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include "ringquell/report.h"

namespace ringquell {

namespace {

constexpr double none = std::numeric_limits<double>::infinity();

double least(const PointResult& r, ModeKind kind, const Requirement& require) {
    double out = none;
    for (const Mode& mode : r.modes.modes)
        if (mode.kind == kind && mode.oscillates() && in_band(mode, require))
            out = std::min(out, mode.damping_ratio());
    return out;
}

/// Points of one stage, at most `width` columns; a column is the least of its points.
struct Span {
    std::string name;
    std::vector<double> differential, common;
};

std::vector<Span> stages_of(const CheckResult& r) {
    std::vector<Span> out;
    for (const PointResult& p : r.points) {
        if (!p.point.judged) continue;
        // Explicit points are stages of one point each; side by side they are one.
        const bool walked = p.point.name != p.point.stage;
        const std::string name = walked ? p.point.stage : "points";
        if (out.empty() || out.back().name != name) out.push_back({name, {}, {}});
        out.back().differential.push_back(least(p, ModeKind::differential, r.require));
        out.back().common.push_back(least(p, ModeKind::common, r.require));
    }
    return out;
}

void squeeze(std::vector<double>& values, size_t columns) {
    if (values.size() <= columns) return;
    std::vector<double> out(columns, none);
    for (size_t k = 0; k < values.size(); ++k) {
        double& column = out[k * columns / values.size()];
        column = std::min(column, values[k]);
    }
    values = std::move(out);
}

}  // namespace

std::string damping_plot(const CheckResult& r, int width) {
    std::vector<Span> stages = stages_of(r);
    constexpr int label = 8, rows = 9, narrow = 30;
    if (stages.empty() || width < narrow) return {};
    size_t points = 0;
    for (const Span& s : stages) points += s.differential.size();
    const size_t room = static_cast<size_t>(width - label) - stages.size();
    if (points == 0 || stages.size() * 2 > room) return {};
    // Few points are drawn apart.
    constexpr size_t widest = 6;
    const size_t wide = std::clamp<size_t>(room / points, 1, widest);
    double low = 0, high = 0;
    std::vector<double> all;
    for (Span& s : stages) {
        const size_t share = points <= room ? s.differential.size()
                                            : std::max<size_t>(1, s.differential.size() * room / points);
        squeeze(s.differential, share);
        squeeze(s.common, share);
        for (const auto* values : {&s.differential, &s.common})
            for (const double v : *values)
                if (v != none) {
                    low = std::min(low, v);
                    all.push_back(v);
                }
    }
    if (all.empty()) return {};
    // What lies far above the target is not worth a line: it is drawn at the top.
    const double target = r.require.differential_damping;
    std::sort(all.begin(), all.end());
    high = std::min(all.back(), std::max(3 * target, 1.2 * all[all.size() / 2]));
    high = std::max(high, 1.5 * target);
    if (low < 0) low = std::min(low, -high / (rows - 2));  // a row below zero for what grows, however slowly
    const double step = (high - low) / (rows - 1);
    const auto row_of = [&](double v) {
        return static_cast<int>(std::lround((high - std::min(v, high)) / step));
    };
    const int zero = row_of(0), asked = row_of(target);
    // On the wrong side of a line by less than half a row is still on the wrong side.
    const auto drawn_row = [&](double v, bool differential) {
        int row = row_of(v);
        if (differential && v < target && row == asked) ++row;
        if (v < 0 && row == zero) ++row;
        return std::min(row, rows - 1);
    };
    std::string out =
        "Damping ratio along the path (● differential, ○ common, ◉ both; ┄ asked of differential modes)\n";
    for (int row = 0; row < rows; ++row) {
        const double value = high - row * step;
        std::string line = row == zero                   ? fmt::format("{:>7}", 0)
                           : row == asked                ? fmt::format("{:>7.3g}", target)
                           : row == 0 || row == rows - 1 ? fmt::format("{:>7.2g}", value)
                                                         : std::string(7, ' ');
        line += "│";
        for (size_t s = 0; s < stages.size(); ++s) {
            if (s > 0) line += "│";
            for (size_t k = 0; k < stages[s].differential.size(); ++k) {
                const double d = stages[s].differential[k], c = stages[s].common[k];
                const bool at_d = d != none && drawn_row(d, true) == row,
                           at_c = c != none && drawn_row(c, false) == row;
                const char* background = row == asked ? "┄" : row == zero ? "─" : " ";
                line += at_d && at_c ? "◉" : at_d ? "●" : at_c ? "○" : background;
                for (size_t more = 1; more < wide; ++more) line += background;
            }
        }
        out += line + "\n";
    }
    // A name that is too long for its stage goes on two lines at its blank; what still does not fit is left
    // out.
    std::string first(label, ' '), second(label, ' ');
    for (size_t s = 0; s < stages.size(); ++s) {
        const size_t columns = stages[s].differential.size() * wide;
        std::string name = stages[s].name, rest;
        if (const size_t blank = name.find(' '); name.size() > columns && blank != std::string::npos) {
            rest = name.substr(blank + 1);
            name.resize(blank);
        }
        for (std::string* text : {&name, &rest}) {
            if (text->size() > columns) text->clear();
            text->resize(columns + 1, ' ');
        }
        first += name;
        second += rest;
    }
    for (std::string* text : {&first, &second}) {
        while (!text->empty() && text->back() == ' ') text->pop_back();
        if (!text->empty()) out += *text + "\n";
    }
    return out + "\n";
}

}  // namespace ringquell
