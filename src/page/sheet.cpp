#include "page/sheet.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/markup.h"
#include "ringquell/quantity.h"

namespace ringquell::internal {

DrawnParts& operator+=(DrawnParts& a, const DrawnParts& b) {
    a.insert(a.end(), b.begin(), b.end());
    return a;
}

namespace {

std::vector<std::string> lines_of_label(const std::string& label) {
    std::vector<std::string> out{""};
    for (const char c : label)
        if (c == '\n')
            out.emplace_back();
        else
            out.back() += c;
    return out;
}

}  // namespace

double width_of(const DrawnParts& parts) {
    constexpr double letter = 8.5, between = 8, symbol = 50;
    double widest = symbol;
    for (const DrawnPart& part : parts)
        for (const std::string& line : lines_of_label(part.label))
            widest = std::max(widest, letter * static_cast<double>(line.size()) + between);
    return widest * static_cast<double>(parts.size());
}

std::string percentage(double share) {
    const double percent = 100 * share;
    return std::abs(percent) < 9.95 ? fmt::format("{:.2g} %", percent) : fmt::format("{:.0f} %", percent);
}

Sheet::Sheet(const EnergyShares& energy) : energy_(energy) {
    std::vector<double> shares;
    for (const auto& [name, share] : energy) shares.push_back(share);
    std::sort(shares.rbegin(), shares.rend());
    double held = 0;
    constexpr double nine_tenths = 0.9;
    for (const double share : shares) {
        if (held >= nine_tenths || share <= 0) break;
        held += share;
        heavy_ = share;
    }
}

void Sheet::wire(double x1, double y1, double x2, double y2) {
    out_ += fmt::format("<path class=\"wire\" d=\"M{:g} {:g}L{:g} {:g}\"/>\n", x1, y1, x2, y2);
}

void Sheet::joint(double x, double y) {
    out_ += fmt::format("<circle class=\"joint\" cx=\"{:g}\" cy=\"{:g}\" r=\"3.5\"/>\n", x, y);
}

void Sheet::terminal(double x, double y) {
    out_ += fmt::format("<circle class=\"terminal\" cx=\"{:g}\" cy=\"{:g}\" r=\"5\"/>\n", x, y);
}

void Sheet::text(double x, double y, const std::string& words, const char* anchor, const char* kind) {
    out_ += fmt::format("<text class=\"{}\" x=\"{:g}\" y=\"{:g}\" text-anchor=\"{}\">{}</text>\n", kind, x, y,
                        anchor, escaped(words));
}

void Sheet::series(double x1, double y1, double x2, double y2, const DrawnParts& parts, bool labels_left) {
    wire(x1, y1, x2, y2);
    const double count = static_cast<double>(parts.size());
    for (size_t k = 0; k < parts.size(); ++k) {
        const double at = (static_cast<double>(k) + 0.5) / count;
        part(parts[k], x1 + (x2 - x1) * at, y1 + (y2 - y1) * at, x1 == x2, labels_left);
    }
}

void Sheet::channel(double x, double y, const DieValues& v) {
    out_ += fmt::format(
        "<g class=\"part\"><path class=\"box\" d=\"M{:g} {:g}l18 22l-18 22l-18 -22z\"/><path "
        "class=\"mark\" "
        "d=\"M{:g} {:g}v22m-5 -7l5 8l5 -8\"/></g>\n",
        x, y - 22, x, y - 11);
    text(x + 24, y - 4, "gm " + engineering(v.transconductance_s, Dimension::conductance, 3), "start",
         "value");
    text(x + 24, y + 14, "gds " + engineering(v.output_conductance_s, Dimension::conductance, 3), "start",
         "value");
}

double Sheet::share(const DrawnPart& p) {
    double sum = 0;
    for (const std::string& name : p.elements)
        for (const auto& [element, energy] : energy_)
            if ((element == name || element.starts_with(name + ".")) &&
                shown_.elements.insert(element).second)
                sum += energy;
    return sum;
}

void Sheet::part(const DrawnPart& p, double x, double y, bool upright, bool label_left) {
    const double energy = share(p);
    constexpr double seen = 0.005;  // half a per cent
    const bool told = energy >= seen, hot = told && energy >= heavy_;
    if (told) shown_.with_percentage += energy;
    out_ += fmt::format("<g class=\"{}\" transform=\"translate({:g} {:g}){}\">", hot ? "hot" : "part", x, y,
                        upright ? " rotate(90)" : "");
    switch (p.symbol) {
        case DrawnSymbol::resistor:
            out_ += "<path class=\"box\" d=\"M-18 -7h36v14h-36z\"/>";
            break;
        case DrawnSymbol::bead:
            out_ +=
                "<path class=\"box\" d=\"M-18 -9h36v18h-36z\"/><path class=\"mark\" d=\"M-18 9l36 "
                "-18\"/>";
            break;
        case DrawnSymbol::inductor:
            out_ +=
                "<path class=\"gap\" d=\"M-18 0h36\"/><path class=\"mark\" d=\"M-18 0a6 6 0 0 1 12 0a6 6 "
                "0 0 1 "
                "12 0a6 6 0 0 1 12 0\"/>";
            break;
        case DrawnSymbol::capacitor:
            out_ += "<path class=\"gap\" d=\"M-4 0h8\"/><path class=\"mark\" d=\"M-4 -13v26M4 -13v26\"/>";
            break;
    }
    out_ += "</g>\n";
    const char* kind = hot ? "value hot" : "value";
    if (!upright) {
        constexpr double line = 18;
        const std::vector<std::string> lines = lines_of_label(p.label);
        double at =
            y - (p.symbol == DrawnSymbol::capacitor ? 18 : 14) - line * static_cast<double>(lines.size() - 1);
        for (const std::string& words : lines) {
            text(x, at, words, "middle", kind);
            at += line;
        }
        if (told) text(x, y + 24, percentage(energy), "middle", kind);
        return;
    }
    const double to = label_left ? x - 18 : x + 18;
    const char* anchor = label_left ? "end" : "start";
    text(to, told ? y - 3 : y + 5, p.label, anchor, kind);
    if (told) text(to, y + 14, percentage(energy), anchor, kind);
}

}  // namespace ringquell::internal
