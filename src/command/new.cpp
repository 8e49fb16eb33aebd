#include <filesystem>
#include <memory>

#include "command/command.h"
#include "ringquell/error.h"
#include "ringquell/read_case.h"
#include "ringquell/starter.h"

namespace ringquell::command {

namespace {

constexpr int plain_positions = 4;  // of the starter without options
constexpr const char* starter =
    R"(# A starter case for ringquell. Replace every value by that of your board; docs/case-file.md lists all keys.
# All values here are invented.
ringquell: 1
title: my half bridge
positions: 4                       # devices in parallel in one switch

device:
  kind: mosfet                     # or cascode
  gate_resistance: 1.1 ohm         # inside the chip
  package: {gate: 5 nH, drain: 2 nH, source: 3 nH, kelvin: 4 nH}   # leave `kelvin` out if there is no Kelvin lead
  channel: {threshold: 4.1 V, gain: 5.5 A, exponent: 1.7, knee_voltage: 9 V, output_slope: 0.0004 /V}
  capacitance: {cgs: 2.3 nF, cgd: 14 pF, cds: 190 pF}

# From each position to the shared rails. Every loop through gates and sources counts.
gate_path:
  resistor: {turn_on: 10 ohm, turn_off: 10 ohm}
  # bead: {dc_resistance: 40 mohm, resistance: 60 ohm, inductance: 80 nH, capacitance: 1 pF}
  inductance: 7 nH
kelvin_path: {inductance: 5 nH}
drain_path: {resistance: 0.5 mohm, inductance: 4 nH}
source_path: {resistance: 0.5 mohm, inductance: 3 nH}
# Across each device. Without it these loops ring by themselves, and no gate resistor damps that.
snubber: {capacitance: 470 pF, resistance: 8.2 ohm, inductance: 2 nH}

driver:
  pull_up_resistance: 0.9 ohm
  pull_down_resistance: 0.5 ohm
  inductance: 4 nH
  return_inductance: 3 nH
  bypass: {capacitance: 1 uF, esr: 8 mohm, esl: 0.8 nH}

power_loop:
  inductance: 9 nH
  resistance: 4 mohm
  complementary: {capacitance: 240 pF, on_resistance: 12 mohm}
  dc_link: {capacitance: 2 uF, esr: 3 mohm, esl: 4 nH}
  load: {inductance: 150 uH, capacitance: 60 pF, resistance: 2 ohm}

operation:
  bus_voltage: 800 V
  load_current: 200 A              # of the whole switch
  drive: {high: 18 V, low: -4 V}
  # Without `points` the whole switching path is walked.

require:
  differential_damping: 0.10
  # common_damping: 0.02           # without it common modes are reported, and fail only if they grow
  band: [1 MHz, 300 MHz]
)";

}  // namespace

void add_new(CommandLine& line) {
    struct Options {
        std::string file;
        bool force = false;
        std::string kind, datasheet;
        int positions = plain_positions;
    };
    auto o = std::make_shared<Options>();
    Verb verb = line.verb("new", "Write a commented starter case");
    add_file_option(verb, "FILE", o->file, "Where to write it; - for standard output", "").required();
    verb.option("--kind", o->kind,
                "mosfet, cascode, jfet or hemt: typical values of such a device and board");
    verb.option("--positions", o->positions, "Devices in parallel").show_default();
    add_file_option(verb, "--datasheet", o->datasheet,
                    "What a datasheet states (docs/starter.md); typical values for the rest");
    verb.flag("--force", o->force, "Overwrite a file that exists");
    verb.footer(
        "Example: ringquell new my-board.yaml\n         ringquell new my-board.yaml --datasheet "
        "cases/parts/datasheet-mosfet.yaml --positions 3");
    verb.runs([o] {
        std::error_code ignored;
        // What is no plain file is written through: nothing is lost.
        if (o->file != "-" && !o->force && std::filesystem::is_regular_file(o->file, ignored))
            throw InputError({o->file}, "",
                             "exists already; expected a new name, or --force to overwrite it");
        std::vector<std::string> read;
        std::string text = starter;
        if (!o->kind.empty() || !o->datasheet.empty() || o->positions != plain_positions) {
            StarterOptions options;
            if (!o->kind.empty()) options.kind = device_kind(o->kind, "--kind");
            if (!o->datasheet.empty()) options.datasheet = o->datasheet;
            options.positions = o->positions;
            text = starter_case(options, &read);
        }
        keep_apart({{"FILE", o->file}}, read, "the datasheet");
        write_output(o->file, text);
        if (o->file == "-") return passes;
        std::string done = "Wrote " + o->file + ". Edit its values, then: ringquell check " + o->file + "\n";
        for (const Warning& w : read_case_text(text, o->file).warnings)
            done += "Doubtful: " + w.key + ": " + w.text + "\n";
        write_output("-", done);
        return passes;
    });
}

}  // namespace ringquell::command
