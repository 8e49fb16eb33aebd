// Damping along the path as a few lines of a terminal.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
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

size_t points_in(const std::vector<Span>& stages) {
    size_t out = 0;
    for (const Span& s : stages) out += s.differential.size();
    return out;
}

void squeeze(std::vector<Span>& stages, size_t room) {
    const size_t points = points_in(stages);
    if (points <= room) return;
    for (Span& s : stages) {
        const size_t share = std::max<size_t>(1, s.differential.size() * room / points);
        squeeze(s.differential, share);
        squeeze(s.common, share);
    }
}

/// What is drawn, rising.
std::vector<double> all_values(const std::vector<Span>& stages) {
    std::vector<double> out;
    for (const Span& s : stages)
        for (const auto* values : {&s.differential, &s.common})
            std::copy_if(values->begin(), values->end(), std::back_inserter(out),
                         [](double v) { return v != none; });
    std::sort(out.begin(), out.end());
    return out;
}

/// Which damping ratio is on which row, from 0 at the top.
class Rows {
  public:
    static constexpr int count = 9;

    /// `values` rise and are not empty.
    Rows(const std::vector<double>& values, double target) : target_(target) {
        // What lies far above the target is not worth a line: it is drawn at the top.
        high_ = std::min(values.back(), std::max(3 * target, 1.2 * values[values.size() / 2]));
        high_ = std::max(high_, 1.5 * target);
        double low = std::min(0.0, values.front());
        // A row below zero for what grows, however slowly.
        if (low < 0) low = std::min(low, -high_ / (count - 2));
        step_ = (high_ - low) / (count - 1);
        zero_ = nearest(0);
        asked_ = nearest(target);
    }
    /// On the wrong side of a line by less than half a row is still on the wrong side.
    int of(double v, bool differential) const {
        int row = nearest(v);
        if (differential && v < target_ && row == asked_) ++row;
        if (v < 0 && row == zero_) ++row;
        return std::min(row, count - 1);
    }
    std::string label(int row) const {
        if (row == zero_) return fmt::format("{:>7}", 0);
        if (row == asked_) return fmt::format("{:>7.3g}", target_);
        return row == 0 || row == count - 1 ? fmt::format("{:>7.2g}", high_ - row * step_)
                                            : std::string(7, ' ');
    }
    const char* background(int row) const { return row == asked_ ? "┄" : row == zero_ ? "─" : " "; }

  private:
    int nearest(double v) const {
        return static_cast<int>(std::lround((high_ - std::min(v, high_)) / step_));
    }

    double target_, high_ = 0, step_ = 0;
    int zero_ = 0, asked_ = 0;
};

/// `wide`: columns of a point.
std::string line_of(const std::vector<Span>& stages, const Rows& rows, int row, size_t wide) {
    std::string out = rows.label(row) + "│";
    const char* background = rows.background(row);
    for (size_t s = 0; s < stages.size(); ++s) {
        if (s > 0) out += "│";
        for (size_t k = 0; k < stages[s].differential.size(); ++k) {
            const double d = stages[s].differential[k], c = stages[s].common[k];
            const bool at_d = d != none && rows.of(d, true) == row;
            const bool at_c = c != none && rows.of(c, false) == row;
            out += at_d && at_c ? "◉" : at_d ? "●" : at_c ? "○" : background;
            for (size_t more = 1; more < wide; ++more) out += background;
        }
    }
    return out + "\n";
}

constexpr int label_columns = 8;

/// A name that is too long for its stage goes on two lines at its blank; what still does not fit is left out.
std::string names_of(const std::vector<Span>& stages, size_t wide) {
    std::string first(label_columns, ' '), second(label_columns, ' '), out;
    for (const Span& s : stages) {
        const size_t columns = s.differential.size() * wide;
        std::string name = s.name, rest;
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
    return out;
}

}  // namespace

std::string damping_plot(const CheckResult& r, int width) {
    std::vector<Span> stages = stages_of(r);
    constexpr int narrow = 30;
    if (stages.empty() || width < narrow) return {};
    const size_t points = points_in(stages);
    const size_t room = static_cast<size_t>(width - label_columns) - stages.size();
    if (points == 0 || stages.size() * 2 > room) return {};
    // Few points are drawn apart.
    constexpr size_t widest = 6;
    const size_t wide = std::clamp<size_t>(room / points, 1, widest);
    squeeze(stages, room);
    const std::vector<double> all = all_values(stages);
    if (all.empty()) return {};
    const Rows rows(all, r.require.differential_damping);
    std::string out =
        "Damping ratio along the path (● differential, ○ common, ◉ both; ┄ asked of differential modes)\n";
    for (int row = 0; row < Rows::count; ++row) out += line_of(stages, rows, row, wide);
    return out + names_of(stages, wide) + "\n";
}

}  // namespace ringquell
