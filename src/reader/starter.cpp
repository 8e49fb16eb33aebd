#include "ringquell/starter.h"

#include <fmt/format.h>

#include <cmath>

#include "case/enum_names.h"
#include "reader/starter_device.h"
#include "ringquell/error.h"

namespace ringquell {

using namespace internal;

namespace {

class Starter {
  public:
    Starter(const Datasheet& sheet, bool has_sheet, int positions)
        : of_(sheet, positions), has_sheet_(has_sheet) {}

    std::string run() {
        head();
        write_device(out_, of_);
        paths();
        driver();
        power_loop();
        operation();
        out_.finish();
        return out_.text();
    }

  private:
    void head() {
        out_.line(has_sheet_
                      ? "# A case from what a datasheet states. Numbers marked \"assumed, common practice\" "
                        "are typical of such boards:"
                      : "# A case of typical values. Numbers marked \"assumed, common practice\" are those "
                        "of such boards:");
        out_.line("# replace them by yours. docs/case-file.md lists all keys.");
        out_.line("ringquell: 1");
        out_.line("title: " +
                  quoted(of_.sheet.title.empty()
                             ? fmt::format("{} {}s in parallel", of_.positions, kind_word(of_.sheet.kind))
                             : fmt::format("{} in parallel: {}", of_.positions, of_.sheet.title)));
        out_.line(fmt::format("positions: {}", of_.positions));
        out_.line("");
    }

    static std::string quoted(const std::string& text) {
        std::string out = "\"";
        for (const char c : text) {
            if (c == '"' || c == '\\') out += '\\';
            out += c == '\n' || c == '\t' ? ' ' : c;
        }
        return out + "\"";
    }

    double path(int sevenths) const { return of_.typical.path_h * sevenths / 7; }

    void paths() {
        out_.line("# From each position to the shared rails. Every loop through gates and sources counts.");
        out_.open("gate_path");
        out_.assumed("resistor", of_.typical.gate_resistor_ohm, Dimension::resistance, "1 %",
                     "yours to choose");
        if (of_.typical.beads) bead();
        out_.assumed("inductance", path(7), Dimension::inductance, "40 %");
        out_.close();
        out_.open("kelvin_path");
        out_.assumed("inductance", path(5), Dimension::inductance, "40 %");
        out_.close();
        for (const auto& [key, sevenths] : {std::pair{"drain_path", 4}, std::pair{"source_path", 3}}) {
            out_.open(key);
            out_.assumed("resistance", 0.5e-3, Dimension::resistance, "60 %");
            out_.assumed("inductance", path(sevenths), Dimension::inductance, "40 %");
            out_.close();
        }
        snubber();
        out_.line("");
    }

    void bead() {
        out_.open("bead");
        out_.assumed("dc_resistance", 40e-3, Dimension::resistance, "50 %");
        out_.assumed("resistance", 60, Dimension::resistance, "25 %", "yours to choose");
        out_.assumed("inductance", 150e-9, Dimension::inductance, "25 %", "yours to choose");
        out_.assumed("capacitance", 1e-12, Dimension::capacitance, "50 %");
        out_.close();
    }

    /// Twice the output capacitance, and the characteristic impedance of the loop through two devices.
    void snubber() {
        const Package& leads = of_.typical.package;
        const double loop_h = path(4) + path(3) + of_.sheet.package.drain_h.value_or(leads.drain_h) +
                              of_.sheet.package.source_h.value_or(leads.source_h);
        out_.line(
            "# Across each device, twice its output capacitance. Without it such loops ring by themselves.");
        out_.open("snubber");
        out_.assumed("capacitance", two_digits(2 * of_.output_f()), Dimension::capacitance, "10 %",
                     "yours to choose");
        out_.assumed("resistance", two_digits(std::sqrt(loop_h / of_.output_f())), Dimension::resistance,
                     "5 %", "yours to choose");
        out_.assumed("inductance", path(2), Dimension::inductance, "40 %");
        out_.close();
    }
    static double two_digits(double value) {
        const double scale = std::pow(10.0, std::floor(std::log10(value)) - 1);
        return std::round(value / scale) * scale;
    }

    void capacitor(const char* key, double farad, double ohm, double henry) {
        out_.open(key);
        out_.assumed("capacitance", farad, Dimension::capacitance, "30 %");
        out_.assumed("esr", ohm, Dimension::resistance, "60 %");
        out_.assumed("esl", henry, Dimension::inductance, "40 %");
        out_.close();
    }

    void driver() {
        out_.open("driver");
        out_.assumed("pull_up_resistance", 0.9, Dimension::resistance, "40 %");
        out_.assumed("pull_down_resistance", 0.5, Dimension::resistance, "40 %");
        out_.assumed("inductance", path(4), Dimension::inductance, "40 %");
        out_.assumed("return_inductance", path(3), Dimension::inductance, "40 %");
        capacitor("bypass", 1e-6, 8e-3, 0.8e-9);
        out_.close();
        out_.line("");
    }

    void power_loop() {
        const double on_ohm = of_.sheet.on_resistance_ohm.value_or(0.02);
        out_.open("power_loop");
        out_.assumed("inductance", of_.typical.power_loop_h, Dimension::inductance, "40 %");
        out_.assumed("resistance", 4e-3, Dimension::resistance, "60 %");
        out_.open("complementary");
        out_.assumed("capacitance", of_.positions * of_.output_f(), Dimension::capacitance, "30 %",
                     "the other switch is like this one");
        out_.assumed("on_resistance", on_ohm / of_.positions, Dimension::resistance, "40 %");
        out_.close();
        capacitor("dc_link", 2e-6, 3e-3, 4e-9);
        out_.open("load");
        out_.assumed("inductance", 150e-6, Dimension::inductance, "50 %");
        out_.assumed("capacitance", 60e-12, Dimension::capacitance, "50 %");
        out_.assumed("resistance", 2, Dimension::resistance, "50 %");
        out_.close();
        out_.close();
        out_.line("");
    }

    void operation() {
        out_.open("operation");
        constexpr double of_rating = 2.0 / 3;
        const double rated_v = of_.sheet.rated_voltage_v.value_or(of_.typical.rated_voltage_v);
        out_.assumed("bus_voltage", of_rating * rated_v, Dimension::voltage, "5 %",
                     "two thirds of the rated voltage");
        out_.assumed("load_current", of_.positions * of_.rated_a, Dimension::current, "5 %",
                     "of the whole switch, at the rated current");
        out_.open("drive");
        out_.either("high", of_.sheet.drive_high_v, of_.typical.drive_high_v, Dimension::voltage, "0.5 V");
        out_.either("low", of_.sheet.drive_low_v, of_.typical.drive_low_v, Dimension::voltage, "0.5 V");
        out_.close();
        if (!of_.sheet.transfer.empty() && of_.sheet.transfer.front().junction_temperature_degc)
            out_.plain(
                "junction_temperature",
                engineering(*of_.sheet.transfer.front().junction_temperature_degc, Dimension::temperature, 9),
                "that of the first transfer curve");
        out_.close();
        out_.line("");
        out_.line("require:");
        out_.line("  differential_damping: 0.10");
        out_.line("  # common_damping: 0.02               # without it common modes fail only if they grow");
        out_.line("  band: [1 MHz, 300 MHz]");
    }

    StarterSwitch of_;
    bool has_sheet_;
    StarterText out_;
};

}  // namespace

std::string starter_case(const StarterOptions& options, std::vector<std::string>* files_read) {
    constexpr int most_positions = 4096;
    if (options.positions < 1 || options.positions > most_positions)
        throw InputError(
            {}, "--positions",
            fmt::format("found {}, expected a whole number from 1 to {}", options.positions, most_positions));
    Datasheet sheet;
    if (options.datasheet) {
        sheet = read_datasheet(*options.datasheet, files_read);
        if (options.kind && *options.kind != sheet.kind)
            throw InputError({}, "--kind",
                             fmt::format("found `{}`, but `{}` states `kind: {}`", name_of(*options.kind),
                                         *options.datasheet, name_of(sheet.kind)));
    } else if (options.kind) {
        sheet.kind = *options.kind;
    }
    return Starter(sheet, options.datasheet.has_value(), options.positions).run();
}

}  // namespace ringquell
