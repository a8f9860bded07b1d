// Small drawings on the plates of the start.
import type { ComponentChildren } from 'preact';
import { DriverSection, Phone, SmallDriver } from './driver';
import { Box, Resistor } from './pen';

function Plate({ children, w = 118, h = 84 }: { children: ComponentChildren; w?: number; h?: number }) {
  return (
    <svg class="drawing" viewBox={`0 0 ${w} ${h}`} aria-hidden="true" focusable="false">
      {children}
    </svg>
  );
}

export function PhonePlate({ large }: { large?: boolean }) {
  if (!large)
    return (
      <Plate>
        <path class="ln" d="M2 78H116" />
        <SmallDriver x={52} y={41} scale={0.9} />
        <Phone x={18} y={78} scale={0.48} />
        <path class="ln thin" d="M56 22q9 6 8 17M62 17q12 8 10 24" />
      </Plate>
    );
  return (
    <Plate w={370} h={180}>
      <path class="ln" d="M2 174H368" />
      <DriverSection x={112} y={46} scale={0.8} />
      <Phone x={58} y={174} scale={1.05} />
      <path class="ln" d="M140 34q17 14 11 36M152 22q26 22 18 56" stroke-width="1.8" />
    </Plate>
  );
}

export function CablePlate() {
  return (
    <Plate>
      <path class="ln" d="M2 72H116" />
      <SmallDriver x={4} y={34} scale={1.02} />
      <path class="wire" d="M70 38C62 50 74 50 74 34V26C74 20 76 18 80 18" />
      <path class="wire second" d="M62 50C78 56 82 44 78 34C76 28 78 26 82 23" />
      <Box x={80} y={13} w={20} h={12} />
      <path class="ln" d="M100 16H111V22H100M111 19H116M104 16V22" />
    </Plate>
  );
}

export function MeterPlate() {
  return (
    <Plate>
      <path class="ln" d="M2 80H116" />
      <Box x={34} y={4} w={50} h={76} />
      <rect class="held" x="42" y="11" width="34" height="18" stroke-width="1.8" />
      <text class="on-yellow" x="59" y="25" text-anchor="middle" font-size="14">
        5.6
      </text>
      <circle class="ln" cx="59" cy="48" r="12" />
      <path class="ln bold" d="M59 48L66 40" />
      <circle class="solid" cx="50" cy="71" r="3" />
      <circle class="solid" cx="68" cy="71" r="3" />
      <path class="wire" d="M50 71C40 86 20 84 16 56L12 30" stroke-width="2" />
      <path class="wire second" d="M68 71C78 86 98 84 102 56L106 30" stroke-width="2" />
      <path class="ln" d="M18 20L12 52M100 20L106 52" />
    </Plate>
  );
}

export function AmplifierPlate() {
  return (
    <Plate>
      <path class="ln" d="M2 78H116" />
      <Box x={4} y={38} w={46} h={34} />
      <circle class="ln" cx="18" cy="55" r="8" />
      <path class="ln" d="M18 55L23 49M32 48H44M32 55H44M32 62H44M10 72V78M44 72V78" />
      <path class="wire" d="M50 46C60 46 56 20 66 20M92 20H104C112 20 106 44 104 50M50 62C62 62 60 54 76 56" />
      <g transform="translate(79 20) scale(0.6)">
        <Resistor x={0} y={0} />
      </g>
      <SmallDriver x={72} y={50} scale={0.76} />
    </Plate>
  );
}

export function StereoPlate() {
  return (
    <Plate>
      <path class="ln" d="M2 80H116" />
      <Box x={4} y={20} w={40} h={60} />
      <text class="socket" x="9" y="43">
        L
      </text>
      <text class="socket" x="9" y="69">
        R
      </text>
      <circle class="ln" cx="32" cy="38" r="7" />
      <circle class="ln" cx="32" cy="64" r="7" />
      <circle class="solid" cx="32" cy="38" r="2.5" />
      <circle class="solid" cx="32" cy="64" r="2.5" />
      <path class="wire" d="M32 38C52 38 54 16 68 16M94 16H104C112 16 108 40 106 48" />
      <path class="wire second" d="M32 64C54 60 62 42 78 46C92 50 100 48 106 48" />
      <g transform="translate(81 16) scale(0.6)">
        <Resistor x={0} y={0} />
      </g>
      <SmallDriver x={62} y={50} scale={0.8} />
    </Plate>
  );
}

export function MonoPlate() {
  return (
    <Plate>
      <path class="ln" d="M2 80H116" />
      <path class="ln" d="M4 72H52L58 80M10 72V34H50V72" />
      <circle class="ln" cx="40" cy="62" r="5" />
      <circle class="solid" cx="40" cy="62" r="1.8" />
      <path class="wire" d="M50 46C58 46 56 16 68 16M94 16H104C112 16 108 36 106 46" />
      <path class="wire second" d="M40 62C54 62 62 40 78 44C92 48 100 46 106 46" />
      <g transform="translate(81 16) scale(0.6)">
        <Resistor x={0} y={0} />
      </g>
      <SmallDriver x={66} y={50} scale={0.76} />
    </Plate>
  );
}

export function PairPlate() {
  return (
    <Plate>
      <path class="ln" d="M2 80H116" />
      <SmallDriver x={2} y={52} scale={0.74} />
      <SmallDriver x={66} y={52} scale={0.74} />
      <Box x={38} y={6} w={42} h={24} />
      <circle class="ln" cx="50" cy="18" r="6" />
      <circle class="ln" cx="68" cy="18" r="6" />
      <circle class="solid" cx="50" cy="18" r="2.2" />
      <circle class="solid" cx="68" cy="18" r="2.2" />
      <path class="wire" d="M50 18C50 40 38 34 44 54" />
      <path class="wire second" d="M68 18C68 38 112 32 108 54" />
    </Plate>
  );
}

export function RecordingPlate() {
  return (
    <Plate>
      <path class="ln fill" d="M26 4H72L90 22V80H26Z" />
      <path class="ln" d="M72 4V22H90M24 4H28M26 2V82M24 80H92" />
      <path class="ln" d="M34 46H40Q43 46 44 26Q46 18 48 40Q50 68 52 60Q54 34 57 34Q60 36 61 54Q64 60 66 44Q68 38 70 48Q73 52 75 46H84M36 70H66" stroke-width="1.6" />
    </Plate>
  );
}

export function PracticePlate() {
  return (
    <Plate>
      <path class="ln dashed" d="M24 8H94M24 8L48 34H70L94 8M48 34V44H70V34" />
      <path class="ln" d="M6 48H112M8 54H110M6 46V56M112 46V56M59 44V48M26 54L16 82M36 54L42 82M82 54L76 82M92 54L102 82" />
    </Plate>
  );
}
